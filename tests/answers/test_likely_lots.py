"""The pH of likely lots against lots drawn one by one (tests/answers/lots_by_draws.py), with another seed and code."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from optiform import design
from optiform.brief import load_brief
from tests.answers.lots_by_draws import DrawnLots

PROBLEMS = Path(__file__).parents[2] / "problems"
WASHES = (
    "first-bath-baby-mild",
    "linden-cream-dry-skin",
    "nettle-gel-oily-skin",
    "oat-conditioning-wash",
    "sea-buckthorn-emulsion-wash",
    "spruce-shampoo",
)
BARE = ("first-bath-baby-mild", "oat-conditioning-wash")


@cache
def designed(name):
    brief = load_brief(PROBLEMS / name / "brief.toml")
    formula = design(brief.model_copy(update={"ranked": brief.ranked.model_copy(update={"how_many": 1})}))
    return brief, formula.formulas[0]


def amounts_of(formula):
    return {line.material: line.percent for line in formula.lines}


def dosed(library, amounts, strength, material, dose):
    """Lots of the formula with one of its acids or bases (or one more) at another dose, water making room."""
    water = library.water.id
    changed = {**amounts, material: dose}
    changed[water] += amounts.get(material, 0.0) - dose
    return DrawnLots(library, changed, strength)


def reached(library, formula, dose, low, high):
    """In which lots some amount of the dose's range gives a pH inside the window: more acid never raises a pH.

    The range is walked in a hundred steps; a window narrower than such a step in pH counts as reached when two
    neighbouring steps lie on either side of it.
    """
    amounts, strength = amounts_of(formula), formula.acidity.ionic_strength
    ends = [dosed(library, amounts, strength, dose.material, amount).pH() for amount in (dose.low, dose.high)]
    lower, upper = np.minimum(*ends), np.maximum(*ends)
    return (lower <= high) & (upper >= low)


@pytest.mark.parametrize("name", WASHES)
def test_nine_lots_in_ten_stand_inside_the_printed_interval(name):
    brief, formula = designed(name)
    found = formula.acidity
    lots = DrawnLots(brief.library, amounts_of(formula), found.ionic_strength).pH()
    inside = np.mean((lots >= found.low) & (lots <= found.high))
    assert 0.85 <= inside <= 0.95
    assert found.low <= found.pH <= found.high
    # and neither tail holds nearly all of the rest
    assert np.mean(lots < found.low) <= 0.09
    assert np.mean(lots > found.high) <= 0.09


@pytest.mark.parametrize("name", WASHES)
def test_the_range_of_the_dose_brings_nine_lots_in_ten_into_the_window(name):
    brief, formula = designed(name)
    target = brief.targets["pH"]
    low, high = target.at_least or 0.0, target.at_most or 14.0
    doses = [*formula.acidity.doses, *formula.acidity.have_ready]
    assert doses
    met = np.zeros(1000, dtype=bool)
    for dose in doses:
        met |= reached(brief.library, formula, dose, low, high)
    assert met.mean() >= 0.9
    assert formula.acidity.reserve >= max(
        dose.high - amounts_of(formula).get(dose.material, 0.0) for dose in doses
    )


@pytest.mark.parametrize("name", BARE)
def test_a_glucoside_wash_without_acid_has_one_ready(name):
    """Without it, more than one lot in twenty stands above the window."""
    brief, formula = designed(name)
    ready = formula.acidity.have_ready[0]
    assert not formula.acidity.doses
    assert brief.library.material[ready.material].function == "acid"
    assert ready.percent == 0.0 == ready.low < ready.high
    lots = DrawnLots(brief.library, amounts_of(formula), formula.acidity.ionic_strength).pH()
    assert np.mean(lots > brief.targets["pH"].at_most) > 0.05
    assert formula.acidity.reserve >= ready.high


def test_who_brings_the_spread_is_who_narrows_it_when_sure():
    """The glucoside of the nettle wash brings nearly all: with its alkali known, little is left."""
    brief, formula = designed("nettle-gel-oily-skin")
    (first, part), *_ = formula.acidity.spread_from
    assert "glucoside" in first
    assert part > 0.8
    material = brief.library.material[first]
    sure = material.model_copy(
        update={"free_alkali_low": material.free_alkali, "free_alkali_high": material.free_alkali}
    )
    others = tuple(sure if m.id == first else m for m in brief.library.materials)
    library = brief.library.model_copy(update={"materials": others})
    loose = DrawnLots(brief.library, amounts_of(formula), formula.acidity.ionic_strength).charge(
        formula.acidity.pH
    )
    tight = DrawnLots(library, amounts_of(formula), formula.acidity.ionic_strength).charge(formula.acidity.pH)
    assert 1.0 - tight.var() / loose.var() == pytest.approx(part, abs=0.05)
