"""A small wash-house with a formula of today, for the tests of changing it."""

from __future__ import annotations

from functools import cache

from optiform.brief.models import Aim, Baseline, Brief, Include, Target
from optiform.library import load_library
from optiform.library.models import Incompatible, Needs, PreservativeSystem, Rules
from tests.builders import NEUTRAL, tiny_library

TODAY = (
    ("water", 60.5),
    ("glucoside", 12.0),
    ("betaine", 10.0),
    ("sulfate", 5.0),
    ("leaf", 5.0),
    ("glycerin", 5.0),
    ("gum", 0.5),
    ("scent", 1.0),
    ("benzoate", 0.5),
    ("sorbate", 0.5),
)


def quay(**fields):
    """Surfactants, helpers and two preservative systems; nothing takes part in the pH."""
    return tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "price": 5.0, "max_use": 40.0},
            {"id": "betaine", "function": "surfactant", "price": 4.0, "max_use": 40.0, "tags": ("palm?",)},
            {"id": "sulfate", "function": "surfactant", "price": 2.0, "max_use": 30.0},
            {"id": "glutamate", "function": "surfactant", "price": 9.0, "max_use": 40.0},
            {
                "id": "amide",
                "function": "surfactant",
                "price": 3.0,
                "min_if_used": 0.5,
                "max_use": 4.0,
                "tags": ("palm",),
            },
            {"id": "leaf", "function": "extract", "price": 22.0, "max_use": 10.0},
            {"id": "glycerin", "function": "humectant", "price": 2.5, "max_use": 20.0},
            {"id": "gum", "function": "thickener", "price": 18.0, "max_use": 2.0},
            {"id": "guar", "function": "thickener", "price": 14.0, "max_use": 2.0},
            {"id": "scent", "function": "fragrance", "price": 60.0, "max_use": 2.0},
            {"id": "benzoate", "function": "preservative", "price": 6.0, "max_use": 1.0},
            {"id": "sorbate", "function": "preservative", "price": 11.0, "max_use": 1.0},
            {"id": "phenoxy", "function": "preservative", "price": 9.0, "max_use": 1.0},
        ],
        [
            {"inci": "Decyl Glucoside", "charge_class": "nonionic", "mildness": 80.0, **NEUTRAL},
            {"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric", "mildness": 75.0, **NEUTRAL},
            {
                "inci": "Sodium Laureth Sulfate",
                "charge_class": "anionic",
                "mildness": 45.0,
                "tags": ("sulfate",),
                **NEUTRAL,
            },
            {"inci": "Sodium Cocoyl Glutamate", "charge_class": "anionic", "mildness": 88.0, **NEUTRAL},
            {"inci": "Cocamide MEA", "charge_class": "nonionic", "mildness": 60.0, **NEUTRAL},
            {"inci": "Linalool", "tags": ("allergen",), **NEUTRAL},
            {"inci": "Residual Amine", **NEUTRAL},
        ],
        {
            "glucoside": {"Decyl Glucoside": 52.0},
            "betaine": {"Cocamidopropyl Betaine": 30.0, "Residual Amine": 0.1},
            "sulfate": {"Sodium Laureth Sulfate": 70.0},
            "glutamate": {"Sodium Cocoyl Glutamate": 30.0},
            "amide": {"Cocamide MEA": 95.0},
            "scent": {"Linalool": 5.0, "Scent": 95.0},
        },
        systems=(
            PreservativeSystem(
                name="benzoate with sorbate", members={"benzoate": (0.4, 0.5), "sorbate": (0.2, 0.5)}
            ),
            PreservativeSystem(name="phenoxy alone", members={"phenoxy": (0.8, 1.0)}),
        ),
        rules=Rules(
            needs=(Needs(material="gum", other="glycerin", ratio=4.0),),
            incompatible=(Incompatible(one="guar", other="gum"),),
        ),
        **fields,
    )


def brief_of(
    lines=TODAY, aim=None, targets=None, include=(), library=None, exclude=(), worth=0.0, **baseline
):
    """Return a brief that changes a formula of today."""
    held = {"keep": ("leaf", "function:thickener", "scent"), "hold": {"active matter": 0.5, "mildness": 2.0}}
    return Brief(
        title="today",
        library=library or quay(),
        law="none",
        aim=aim or Aim(),
        targets={name: Target(**bounds) for name, bounds in (targets or {}).items()},
        include=tuple(Include(**wish) for wish in include),
        exclude=exclude,
        worth=worth,
        baseline=Baseline(formula="today.csv", lines=tuple(lines), **{**held, **baseline}),
    )


@cache
def starter():
    """The starter library, read once."""
    return load_library()


STARTER_TODAY = (
    ("water", 71.32),
    ("decyl-glucoside", 9.0),
    ("sodium-laureth-sulfate-70", 4.0),
    ("cocamidopropyl-betaine-38", 7.0),
    ("glycerin", 3.0),
    ("xanthan-gum", 0.6),
    ("disodium-edta", 0.1),
    ("nettle-extract", 4.0),
    ("sodium-benzoate", 0.45),
    ("potassium-sorbate", 0.25),
    ("citric-acid", 0.28),
)
