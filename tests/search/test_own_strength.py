"""Choices that make no structure of their own are compared each at its own ionic strength.

The oracle takes every choice by itself: the same brief without the other one, so that nothing is left to compare.
"""

import numpy as np
import pytest

from optiform import check, design
from optiform.answers.live import Bound, LiveBrief, Removed
from optiform.brief.models import Brief, Exclude, Include, Target
from optiform.chemistry.balance import Balance
from optiform.measures.acidity import charge_curves
from optiform.program import Key
from tests.builders import tiny_library

SUBSTANCES = (
    {"inci": "Glucoside", "charge_class": "nonionic", "mildness": 90, "charge_acid_form": 0.0, "strong_charge": 0.0},
    {"inci": "Triprotic Acid", "molar_mass": 192.1, "pka": (3.13, 4.76, 6.40), "pka_kind": "thermodynamic",
     "charge_acid_form": 0.0, "strong_charge": 0.0},
    {"inci": "Sodium Chloride", "molar_mass": 58.44, "charge_acid_form": -1.0, "strong_charge": 1.0},
)  # fmt: skip
SOFT = Key("targets", ("active matter",), "at_least")


def wash(salty_price: float, *without: str) -> Brief:
    """Return a wash at pH 5 with one of two chelators, invented: one of no charge, one that is half salt."""
    library = tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "price": 3.0, "max_use": 30.0, "free_alkali": 80.0},
            {"id": "acid", "function": "acid", "price": 4.0, "max_use": 5.0},
            {"id": "calm", "function": "chelator", "price": 5.0, "min_if_used": 0.2, "max_use": 1.0},
            {"id": "salty", "function": "chelator", "price": salty_price, "min_if_used": 0.2, "max_use": 1.0},
        ],
        SUBSTANCES,
        {
            "glucoside": {"Glucoside": 50.0},
            "acid": {"Triprotic Acid": 50.0},
            "salty": {"Sodium Chloride": 50.0},
        },
    )
    return Brief(
        title="Quay wash",
        library=library,
        law="none",
        targets={
            "active matter": Target(at_least=8.0, at_most=12.0),
            "pH": Target(at_least=4.8, at_most=5.2),
        },
        include=(Include(function="chelator", at_least=0.2),),
        exclude=tuple(Exclude(material=name) for name in without),
    )


def aim(brief: Brief) -> float:
    return check(brief).formulas[0].aim


def nearly_even() -> float:
    """Return the price at which the salty chelator makes the formula 2e-6 EUR/kg cheaper, taken alone."""
    calm, salty = aim(wash(5.0, "salty")), aim(wash(5.0, "calm"))
    assert salty < calm - 1e-5  # its salt spares acid
    return 5.0 + (calm - salty - 2e-6) / 0.002


def test_the_choice_that_is_better_at_its_own_ionic_strength_is_taken():
    """By hand: 0.2 % is 2 g in a kilogram, so that a price of 1 EUR/kg more costs 0.002.

    At the ionic strength of either formula the salty chelator is the dearer one: there its salt has no say.
    """
    brief = wash(nearly_even())
    least = min(aim(wash(brief.library.material["salty"].price, name)) for name in ("calm", "salty"))
    found = check(brief).formulas[0]
    assert "salty" in {line.material for line in found.lines}
    assert found.aim == pytest.approx(least, abs=1e-9)
    first = design(brief).formulas[0]
    assert [(line.material, line.percent) for line in first.lines] == [
        (line.material, pytest.approx(line.percent, abs=1e-6)) for line in found.lines
    ]


@pytest.mark.parametrize("kept", ["calm", "salty"])
def test_a_moved_brief_comes_to_the_same_from_either_choice(kept):
    """What the last move left is in hand: the proof ends with it, or with what is better."""
    price = nearly_even()
    live = LiveBrief(wash(price, "calm" if kept == "salty" else "salty"))
    live.proven()
    live.move(Removed("exclude", 1))
    assert live.proven().aim == pytest.approx(aim(live.brief), abs=1e-9)
    live.move(Bound(SOFT, 8.5))
    assert live.proven().aim == pytest.approx(aim(live.brief), abs=1e-9)


def test_the_gradient_of_the_ionic_strength():
    """Held against differences of the balance itself at the pH and the ionic strength of the formula."""
    curves = charge_curves(wash(5.0).library)
    index = curves.library.arrays.material_index
    amounts = np.zeros(len(index))
    for name, percent in {"water": 83.4, "glucoside": 16.0, "acid": 0.4, "salty": 0.2}.items():
        amounts[index[name]] = percent
    settled, gradient = curves.settle(amounts), curves.strength_gradient(amounts)

    def strength(held):
        return Balance(*curves._mixture(held)).ionic_strength(settled.pH, settled.ionic_strength)

    for place, one in enumerate(np.eye(len(amounts))):
        rise = (strength(amounts + 1e-4 * one) - strength(amounts)) / 1e-4
        assert gradient[place] == pytest.approx(rise, rel=1e-4, abs=1e-6)


def test_a_brief_without_a_ph_is_left_alone():
    brief = wash(5.0)
    brief = brief.model_copy(update={"targets": {"active matter": Target(at_least=8.0)}})
    assert aim(brief) == pytest.approx(16.0 * 0.03 + 0.2 * 0.05, abs=1e-6)
