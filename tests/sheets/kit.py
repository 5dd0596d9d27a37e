"""Small libraries and formulas for the tests of the sheets."""

from __future__ import annotations

from typing import Any

from optiform.brief.models import Brief
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from tests.builders import tiny_library


def formula(name: str = "nettle gel", **percents: float) -> TypedFormula:
    """Return a typed formula; underscores in names stand for dashes."""
    lines = tuple((key.replace("_", "-"), value) for key, value in percents.items())
    return TypedFormula(name, lines, sum(value for _, value in lines))


def brief(library: Library, **fields: Any) -> Brief:
    return Brief(**{"title": "Nettle gel", "library": library, "law": "none", **fields})


WET = ("slurry", "dust")
ON_TOP = ("sprinkle", "hydrate")
UNSURE = {"free_alkali_low": -20.0, "free_alkali_high": 20.0}
CARBOMER_LIKE = (*ON_TOP, "before-acid", "neutralise", "dust")
HANDLED: tuple[tuple[str, str, str, tuple[str, ...], dict[str, Any]], ...] = (
    ("gum", "thickener", "gum", WET, {"hydration_h": 1.0}),
    ("glycerin", "humectant", "gum", (), {"price": 3.0}),
    ("polymer", "thickener", "gum", CARBOMER_LIKE, {"hydration_h": 8.0}),
    ("cationic-gum", "conditioner", "gum", ON_TOP, {"hydration_h": 0.5, "tags": ("cationic-polymer",)}),
    ("benzoate", "preservative", "water", ("dissolve", "before-acid", "dust"), {}),
    ("chelator", "chelator", "water", ("dissolve",), {}),
    ("oil", "oil", "oil", (), {}),
    ("wax", "emulsifier", "oil", ("melt",), {"add_above_C": 70.0}),
    ("surfactant", "surfactant", "surfactant", ("gentle", "eye-damage"), {"price": 4.0, **UNSURE}),
    ("needles", "surfactant", "surfactant", ("dissolve", "dust"), {"add_above_C": 60.0}),
    ("cool-preservative", "preservative", "cool", ("cool-down",), {"add_below_C": 45.0}),
    ("scent", "fragrance", "cool", ("premix-oil",), {"add_below_C": 40.0, "tags": ("sensitiser",)}),
    ("solubiliser", "solubiliser", "cool", ("premix-oil",), {}),
    ("pearl", "opacifier", "cool", ("suspend", "opacify"), {}),
    ("clay", "powder", "water", ("suspend", "dust"), {}),
    ("salt", "salt", "adjust", ("dissolve",), {}),
    ("acid", "acid", "adjust", ("dissolve", "last", "dust"), {}),
    ("lye", "base", "adjust", ("last", "corrosive"), {"free_alkali_low": -400.0, "free_alkali_high": 400.0}),
)
CHEMISTRY: tuple[dict[str, Any], ...] = (
    {"inci": "Citric Acid", "molar_mass": 192.12, "pka": (3.128, 4.761, 6.396), "charge_acid_form": 0.0},
    {"inci": "Sodium Hydroxide", "molar_mass": 40.0, "charge_acid_form": 0.0, "strong_charge": 1.0},
    {
        "inci": "Sodium Benzoate",
        "molar_mass": 144.1,
        "pka": (4.202,),
        "charge_acid_form": 0.0,
        "strong_charge": 1.0,
    },
)


def bench_library(**fields: Any) -> Library:
    """A library with one material of each kind of handling."""
    return tiny_library(
        [
            {"id": name, "function": function, "phase": phase, "handling": handling, **more}
            for name, function, phase, handling, more in HANDLED
        ],
        substances=CHEMISTRY,
        parts={
            "acid": {"Citric Acid": 100.0},
            "lye": {"Sodium Hydroxide": 10.0},
            "benzoate": {"Sodium Benzoate": 100.0},
        },
        **fields,
    )
