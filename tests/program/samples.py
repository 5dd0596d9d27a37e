"""A tiny invented wash-house shelf on which every kind of rule can bite, and briefs on it."""

from __future__ import annotations

from typing import Any

from optiform.brief.models import Brief, Ranked, Target
from optiform.library.models import Library, PreservativeSystem
from tests.builders import tiny_library

SUBSTANCES = (
    {"inci": "Anion", "charge_class": "anionic", "mildness": 40, "molar_mass": 380.0, "charge_acid_form": -1.0,
     "strong_charge": 1.0, "tags": ("sulfate",), "natural_origin": 0.5},
    {"inci": "Zwitterion", "charge_class": "amphoteric", "mildness": 70, "molar_mass": 342.5, "charge_acid_form": 0.0,
     "strong_charge": 0.0, "natural_origin": 0.6},
    {"inci": "Glucoside", "charge_class": "nonionic", "mildness": 90, "charge_acid_form": 0.0, "strong_charge": 0.0,
     "natural_origin": 1.0},
    {"inci": "Salt", "molar_mass": 58.44, "charge_acid_form": -1.0, "strong_charge": 1.0, "tags": ("electrolyte",),
     "natural_origin": 1.0},
    {"inci": "Gum", "tags": ("gum",), "charge_acid_form": 0.0, "strong_charge": 0.0, "natural_origin": 1.0},
    {"inci": "Cationic Gum", "tags": ("gum",), "charge_acid_form": 0.0, "strong_charge": 0.0, "natural_origin": 1.0},
    {"inci": "Glycerin", "charge_acid_form": 0.0, "strong_charge": 0.0, "natural_origin": 1.0},
    {"inci": "Weak Acid", "molar_mass": 90.0, "pka": (3.9,), "pka_kind": "effective", "charge_acid_form": 0.0,
     "strong_charge": 0.0, "natural_origin": 1.0},
    {"inci": "Preserver", "molar_mass": 144.1, "pka": (4.2,), "pka_kind": "effective", "charge_acid_form": 0.0,
     "strong_charge": 1.0, "natural_origin": 0.0},
    {"inci": "Alcohol", "charge_acid_form": 0.0, "strong_charge": 0.0, "natural_origin": 0.0},
    {"inci": "Nettle", "charge_acid_form": 0.0, "strong_charge": 0.0, "natural_origin": 1.0},
    {"inci": "Riddle"},
)  # fmt: skip
SPECS = {
    "anion": {"function": "surfactant", "price": 1.5, "min_if_used": 1.0, "max_use": 50.0},
    "zwitter": {"function": "surfactant", "price": 2.0, "min_if_used": 1.0, "max_use": 40.0},
    "glucoside": {"function": "surfactant", "price": 2.6, "max_use": 30.0, "free_alkali": 40.0},
    "xanthan": {"function": "thickener", "price": 9.0, "min_if_used": 0.2, "max_use": 2.0, "pH_min": 3.0},
    "cationic-gum": {"function": "thickener", "also": ("conditioner",), "price": 12.0, "min_if_used": 0.1,
                     "max_use": 1.0, "tags": ("cationic-polymer",), "pH_max": 5.0},
    "salt": {"function": "salt", "price": 0.3, "max_use": 3.0},
    "glycerin": {"function": "humectant", "price": 1.2, "max_use": 20.0},
    "nettle": {"function": "extract", "price": 8.0, "min_if_used": 0.5, "max_use": 5.0, "tags": ("botanical", "nut?")},
    "acid": {"function": "acid", "price": 1.1, "max_use": 5.0},
    "preserver": {"function": "preservative", "price": 3.0, "max_use": 1.0},
    "alcohol": {"function": "preservative", "price": 4.0, "max_use": 1.0},
    "riddle": {"function": "extract", "price": 0.5, "max_use": 5.0},
}  # fmt: skip
PARTS = {
    "anion": {"Anion": 28.0, "Salt": 1.0},
    "zwitter": {"Zwitterion": 30.0, "Salt": 5.0},
    "glucoside": {"Glucoside": 50.0},
    "xanthan": {"Gum": 100.0},
    "cationic-gum": {"Cationic Gum": 100.0},
    "salt": {"Salt": 100.0},
    "glycerin": {"Glycerin": 100.0},
    "nettle": {"Nettle": 5.0, "Glycerin": 70.0},
    "acid": {"Weak Acid": 80.0},
    "preserver": {"Preserver": 100.0},
    "alcohol": {"Alcohol": 100.0},
    "riddle": {"Riddle": 10.0},
}
SYSTEMS = (
    PreservativeSystem(name="preserver alone", members={"preserver": (0.4, 0.6)}, pH=(4.0, 5.0)),
    PreservativeSystem(name="alcohol alone", members={"alcohol": (0.8, 1.0)}),
    PreservativeSystem(name="both", members={"preserver": (0.2, 0.5), "alcohol": (0.3, 0.5)}, pH=(None, 6.0)),
)


def shelf(*names: str, change: dict[str, dict[str, Any]] | None = None, **fields: Any) -> Library:
    """Return a library of the named materials, with some of their fields changed."""
    changed = change or {}
    return tiny_library(
        [{"id": name, **SPECS[name], **changed.get(name, {})} for name in names],
        SUBSTANCES,
        {name: PARTS[name] for name in names},
        **fields,
    )


WASH = ("anion", "zwitter", "glucoside", "xanthan", "salt", "glycerin")


def wash(library: Library | None = None, targets: dict[str, Any] | None = None, **fields: Any) -> Brief:
    """Return a brief for a plain wash; targets are added to active matter 8 to 12 % and mildness 55 or more."""
    wanted = {
        "active matter": {"at_least": 8.0, "at_most": 12.0},
        "mildness": {"at_least": 55.0},
        **(targets or {}),
    }
    return Brief(
        **{
            "title": "Tiny wash",
            "library": library or shelf(*WASH),
            "law": "none",
            "targets": {name: Target(**ends) for name, ends in wanted.items() if ends is not None},
            "ranked": Ranked(how_many=5),
            **fields,
        }
    )
