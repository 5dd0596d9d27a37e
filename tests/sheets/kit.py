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


def bench_library(**fields: Any) -> Library:
    """A library with one material of each kind of handling."""
    return tiny_library(
        [
            {"id": "gum", "function": "thickener", "phase": "gum", "handling": ("slurry", "dust"), "hydration_h": 1.0},
            {"id": "glycerin", "function": "humectant", "phase": "gum", "price": 3.0},
            {"id": "polymer", "function": "thickener", "phase": "gum", "handling": ("sprinkle", "hydrate", "before-acid", "neutralise", "dust"), "hydration_h": 8.0},
            {"id": "cationic-gum", "function": "conditioner", "phase": "gum", "handling": ("sprinkle", "hydrate"), "hydration_h": 0.5, "tags": ("cationic-polymer",)},
            {"id": "benzoate", "function": "preservative", "phase": "water", "handling": ("dissolve", "before-acid", "dust")},
            {"id": "chelator", "function": "chelator", "phase": "water", "handling": ("dissolve",)},
            {"id": "oil", "function": "oil", "phase": "oil"},
            {"id": "wax", "function": "emulsifier", "phase": "oil", "handling": ("melt",), "add_above_C": 70.0},
            {"id": "surfactant", "function": "surfactant", "phase": "surfactant", "handling": ("gentle", "eye-damage"), "price": 4.0},
            {"id": "needles", "function": "surfactant", "phase": "surfactant", "handling": ("dissolve", "dust"), "add_above_C": 60.0},
            {"id": "cool-preservative", "function": "preservative", "phase": "cool", "handling": ("cool-down",), "add_below_C": 45.0},
            {"id": "scent", "function": "fragrance", "phase": "cool", "handling": ("premix-oil",), "add_below_C": 40.0, "tags": ("sensitiser",)},
            {"id": "solubiliser", "function": "solubiliser", "phase": "cool", "handling": ("premix-oil",)},
            {"id": "pearl", "function": "opacifier", "phase": "cool", "handling": ("suspend", "opacify")},
            {"id": "clay", "function": "powder", "phase": "water", "handling": ("suspend", "dust")},
            {"id": "salt", "function": "salt", "phase": "adjust", "handling": ("dissolve",)},
            {"id": "acid", "function": "acid", "phase": "adjust", "handling": ("dissolve", "last", "dust")},
            {"id": "lye", "function": "base", "phase": "adjust", "handling": ("last", "corrosive")},
        ],
        substances=[
            {"inci": "Citric Acid", "molar_mass": 192.12, "pka": (3.128, 4.761, 6.396), "charge_acid_form": 0.0, "strong_charge": 0.0},
            {"inci": "Sodium Hydroxide", "molar_mass": 40.0, "charge_acid_form": 0.0, "strong_charge": 1.0},
            {"inci": "Sodium Benzoate", "molar_mass": 144.1, "pka": (4.202,), "charge_acid_form": 0.0, "strong_charge": 1.0},
        ],
        parts={
            "acid": {"Citric Acid": 100.0},
            "lye": {"Sodium Hydroxide": 10.0},
            "benzoate": {"Sodium Benzoate": 100.0},
        },
        **fields,
    )  # fmt: skip
