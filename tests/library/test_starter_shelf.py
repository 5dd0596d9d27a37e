"""The starter library as a formulator would walk along its shelf: sums, sources, doses, what washes."""

from __future__ import annotations

import csv
import re
from decimal import Decimal

import pytest

from optiform.library import load_library
from optiform.library.reading import starter_folder
from optiform.library.selection import select

LIBRARY = load_library()
ROWS = {
    name: list(csv.DictReader((starter_folder() / f"{name}.csv").read_text(encoding="utf-8").splitlines()))
    for name in ("materials", "substances", "composition", "packs")
}
KEYS = set(
    re.findall(r"^\| `([^`]+)` \|", (starter_folder() / "SOURCES.md").read_text(encoding="utf-8"), re.M)
)


def test_every_material_adds_to_exactly_100() -> None:
    sums: dict[str, Decimal] = {}
    for row in ROWS["composition"]:
        sums[row["material"]] = sums.get(row["material"], Decimal(0)) + Decimal(row["percent"])
    assert set(sums) == set(LIBRARY.material)
    assert {name: total for name, total in sums.items() if total != 100} == {}


def test_every_source_key_is_explained() -> None:
    named = {
        word for table in ("materials", "substances") for row in ROWS[table] for word in row["source"].split()
    }
    rules = LIBRARY.rules
    for entry in (*LIBRARY.systems, *rules.every):
        assert entry.source, entry
        named |= set(entry.source.split())
    assert named <= KEYS


def test_the_kilogram_of_some_supplier_costs_what_the_material_costs() -> None:
    kilograms: dict[str, list[float]] = {}
    for row in ROWS["packs"]:
        if float(row["size_g"]) == 1000:
            kilograms.setdefault(row["material"], []).append(float(row["price"]))
    for name, prices in kilograms.items():
        assert LIBRARY.material[name].price == pytest.approx(min(prices)), name


def test_only_what_washes_counts_as_a_surfactant() -> None:
    """The house definition of active matter: helpers never fill a target of strength."""
    surfactants = select(LIBRARY, "function", "surfactant").sure
    assert len(surfactants) >= 32
    for helper in (
        "cocamide-mea", "peg-7-glyceryl-cocoate", "sodium-lauroyl-lactylate", "polyglyceryl-10-laurate",
        "cetrimonium-chloride-29", "behentrimonium-chloride-80", "polysorbate-20", "coco-glucoside-glyceryl-oleate",
    ):  # fmt: skip
        assert helper not in surfactants and helper in LIBRARY.material
    classes = {
        LIBRARY.substance[part.inci].charge_class
        for name in surfactants
        for part in LIBRARY.composition[name]
    }
    assert {"anionic", "amphoteric", "nonionic"} <= classes and "cationic" not in classes


# Least amount that is felt in a wash, % w/w as supplied: handbook-level use ranges, from memory.
FELT = {
    "xanthan-gum": 0.2, "cationic-guar": 0.1, "hydroxyethylcellulose": 0.5, "acrylates-copolymer-30": 4,
    "carbomer": 0.2, "polyacrylate-crosspolymer-6": 0.3, "peg-120-methyl-glucose-dioleate": 0.5,
    "peg-150-distearate": 0.5, "gellan-gum": 0.1, "cellulose-gum": 0.5, "cocamide-mea": 1,
}  # fmt: skip


@pytest.mark.parametrize(("name", "least"), FELT.items())
def test_no_thickener_is_used_below_what_is_felt(name: str, least: float) -> None:
    material = LIBRARY.material[name]
    assert material.function == "thickener"
    assert least <= material.min_if_used < material.max_use


def test_a_clear_gel_can_leave_out_whatever_clouds_it() -> None:
    clouding = set(select(LIBRARY, "tag", "clouding").sure)
    assert clouding == {m.id for m in LIBRARY.materials if m.clarity in ("hazy", "opaque", "pearl")}


def test_no_two_grades_of_one_surfactant_pass_for_two_surfactants() -> None:
    """Grades whose only surfactant is the same substance may not stand side by side."""
    apart = {frozenset((rule.one, rule.other)) for rule in LIBRARY.rules.incompatible}
    grades: dict[str, list[str]] = {}
    for name in select(LIBRARY, "function", "surfactant").sure:
        held = [part.inci for part in LIBRARY.composition[name] if LIBRARY.substance[part.inci].charge_class]
        if len(held) == 1:
            grades.setdefault(held[0], []).append(name)
    pairs = [names for names in grades.values() if len(names) > 1]
    assert len(pairs) >= 4
    for names in pairs:
        assert len(names) == 2 and frozenset(names) in apart
