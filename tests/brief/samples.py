"""A small wash-house library and a brief that is right, for the tests of this room."""

from __future__ import annotations

import copy
from typing import Any

from optiform.library.models import ColumnMeasure, Library, PreservativeSystem, Trial
from tests.builders import tiny_library


def quay_library(**fields: Any) -> Library:
    """Two surfactants of three classes, two thickeners, one extract, one acid, one system."""
    return tiny_library(
        materials=[
            {"id": "glucoside", "function": "surfactant", "price": 4.0, "max_use": 30.0},
            {"id": "betaine", "function": "surfactant", "price": 3.0, "max_use": 40.0, "tags": ("palm?",)},
            {"id": "ether-sulfate", "function": "surfactant", "price": 2.0, "max_use": 50.0},
            {"id": "xanthan-gum", "function": "thickener", "tags": ("gum",), "extra": {"acid_demand": 0.1}},
            {"id": "carbomer", "function": "thickener"},
            {"id": "glycerin", "function": "humectant"},
            {"id": "nettle-extract", "function": "extract"},
            {"id": "citric-acid", "function": "acid"},
            {"id": "benzoate", "function": "preservative"},
        ],
        substances=[
            {"inci": "Decyl Glucoside", "charge_class": "nonionic", "mildness": 88},
            {"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric", "mildness": 72},
            {
                "inci": "Sodium Laureth Sulfate",
                "charge_class": "anionic",
                "mildness": 45,
                "tags": ("sulfate",),
            },
            {"inci": "Sodium Chloride", "tags": ("electrolyte",), "charge_acid_form": -1, "strong_charge": 1},
            {"inci": "Benzoic Acid", "pka": (4.2,), "charge_acid_form": 0, "molar_mass": 122.12},
        ],
        parts={
            "glucoside": {"Decyl Glucoside": 50.0},
            "betaine": {"Cocamidopropyl Betaine": 30.0, "Sodium Chloride": 5.0},
            "ether-sulfate": {"Sodium Laureth Sulfate": 28.0},
            "benzoate": {"Benzoic Acid": 100.0},
        },
        systems=(PreservativeSystem(name="benzoate", members={"benzoate": (0.4, 0.5)}, pH=(4.0, 5.2)),),
        measures=(ColumnMeasure(name="acid demand", column="acid_demand", unit="% w/w"),),
        trials=(
            Trial(base="glucoside base", material="xanthan-gum", percent=0.3, mPa_s=300),
            Trial(base="glucoside base", material="xanthan-gum", percent=0.6, mPa_s=900),
        ),
        **fields,
    )


def wanted(**changes: Any) -> dict[str, Any]:
    """Return the least brief that is right, with some keys replaced."""
    return {"title": "Nettle wash", "targets": {"active matter": {"at_least": 8.0}}, **copy.deepcopy(changes)}
