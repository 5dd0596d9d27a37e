"""A small wash-house in memory, and benches of invented trials on disk."""

from __future__ import annotations

from pathlib import Path

from optiform.library.models import Library
from tests.builders import tiny_library

WEIGHED = """\
trial,date,block,brief,parent,material,grams
1,2026-03-02,monday,nettle.toml,,water,166
1,2026-03-02,monday,nettle.toml,,glucoside,24
1,2026-03-02,monday,nettle.toml,,betaine,8
1,2026-03-02,monday,nettle.toml,,gum,2
2,2026-03-02,monday,nettle.toml,1,water,165
2,2026-03-02,monday,nettle.toml,1,glucoside,24
2,2026-03-02,monday,nettle.toml,1,betaine,8
2,2026-03-02,monday,nettle.toml,1,gum,3
"""
READINGS = """\
trial,measure,value,censored,repeat,hours,temperature_C,instrument,note,photo
1,viscosity,1100,,1,20,22,"RV3, 20/min",,
1,viscosity,1200,,2,20,22,"RV3, 20/min",,one.jpg
1,pH,5.4,,,20,22,,,
1,one phase,yes,,,20,22,,,
1,viscosity,300,,,168,45,,,
2,viscosity,6100,,,20,22,,,
2,cloud,60,above,,20,22,,,
2,one phase,no,,,168,45,,"a layer, 3 mm",
"""


def wash_house(**fields: object) -> Library:
    """Return a library of two surfactants, a gum, salt and glycerin; every value is invented."""
    return tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "price": 4.0},
            {"id": "betaine", "function": "surfactant", "price": 3.0},
            {"id": "gum", "function": "thickener", "price": 14.0},
            {"id": "salt", "function": "salt", "price": 0.5},
            {"id": "glycerin", "function": "humectant", "price": 1.5},
        ],
        substances=[{"inci": "Sodium Chloride", "tags": ("electrolyte",)}],
        parts={"salt": {"Sodium Chloride": 100}, "betaine": {"Betaine": 35, "Sodium Chloride": 5}},
        **fields,
    )


def bench_at(folder: Path, weighed: str | None = WEIGHED, readings: str | None = READINGS) -> Path:
    """Write a bench folder; None leaves a file out."""
    folder.mkdir(exist_ok=True)
    for name, text in (("weighed.csv", weighed), ("readings.csv", readings)):
        if text is not None:
            (folder / name).write_text(text, encoding="utf-8")
    return folder
