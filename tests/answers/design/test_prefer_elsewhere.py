"""Soft wishes where a formula is changed or a material is asked about: the same penalty, in every figure.

Oracles: a wish that is worth a fortune is a wall and one worth nothing is none, the brief solved afresh at another
price or with the material forced in, and worth times shortfall by hand.
"""

import math

import pytest

from optiform.answers.design import design
from optiform.answers.price import why
from optiform.answers.rework import reformulate
from optiform.brief.models import Exclude, Include, Prefer, Ranked, Target
from optiform.library.overrides import with_prices
from tests.answers.design.test_prefer import NAMES, WISHES, paid, with_wish
from tests.answers.rework.today import brief_of

ONE = {"ranked": Ranked(how_many=1)}
SURE = 1e-6
WISH = Prefer(measure="mildness", at_least=78.0, worth=0.01)


def changed(wish):
    return reformulate(free().model_copy(update={"prefer": (wish,)}))


def free():
    """Return a brief that changes today's formula, with as much active matter as now, as mild or harsh as it likes."""
    return brief_of(
        targets={"active matter": {"at_least": 12.0, "at_most": 13.0}}, hold={}, keep=("leaf",), at_most_new=2
    )


def best(brief):
    """Return what the best formula of a brief comes to, with what it is short of."""
    found = design(brief.model_copy(update=ONE)).formulas
    return found[0].ranked_by if found else math.inf


def test_a_wish_worth_nothing_changes_no_reformulation():
    without, nothing = reformulate(free()), changed(WISH.model_copy(update={"worth": 0.0}))
    assert nothing.formulas[0].aim == pytest.approx(without.formulas[0].aim, abs=SURE)
    assert nothing.changes.saving == pytest.approx(without.changes.saving, abs=SURE)


def test_a_wish_worth_a_fortune_is_a_wall_for_a_reformulation():
    dear = changed(WISH.model_copy(update={"worth": 1000.0})).formulas[0]
    brief = free()
    wall = Target(at_least=78.0)
    walled = brief.model_copy(update={"targets": {**brief.targets, "mildness": wall}})
    assert dear.aim == pytest.approx(reformulate(walled).formulas[0].aim, abs=1e-4)


@pytest.mark.parametrize("worth", [0.001, 0.01, 0.05])
def test_a_saving_counts_what_both_formulas_are_short_of(worth):
    wish = WISH.model_copy(update={"worth": worth})
    answer = changed(wish)
    today, first = answer.baseline, answer.formulas[0]
    short = max(0.0, 78.0 - today.figure("mildness").value)
    assert today.ranked_by == pytest.approx(today.aim + worth * short, abs=1e-9)
    assert first.ranked_by == pytest.approx(paid(first), abs=1e-9)
    changes = answer.changes
    assert changes.saving == pytest.approx(today.ranked_by - first.ranked_by, abs=SURE)
    assert math.fsum(step.saving for step in changes.steps) == pytest.approx(changes.saving, abs=SURE)
    assert changes.sliding + changes.choices == pytest.approx(changes.saving, abs=SURE)
    most = max(rung.saving for rung in changes.ladder if rung.saving is not None)
    assert most >= changes.saving - SURE


@pytest.mark.parametrize("wish", [WISHES[1], WISHES[2], WISHES[4]], ids=lambda wish: wish.measure)
@pytest.mark.parametrize("material", NAMES)
def test_what_forcing_a_material_costs_counts_what_is_short(wish, material):
    brief = with_wish(wish)
    told = why(brief, material).why
    assert told.best == pytest.approx(best(brief), abs=SURE)
    least = max(brief.library.material[material].min_if_used, 1e-3)
    forced = (
        {"exclude": (*brief.exclude, Exclude(material=material))}
        if told.percent > 0
        else {"include": (*brief.include, Include(material=material, at_least=least))}
    )
    oracle = best(brief.model_copy(update=forced))
    assert (math.inf if told.forced is None else told.forced) == pytest.approx(oracle, abs=2e-5)


@pytest.mark.parametrize("wish", WISHES[1:3], ids=lambda wish: wish.measure)
@pytest.mark.parametrize("material", NAMES)
def test_another_formula_takes_over_at_the_price_that_is_told(wish, material):
    brief = with_wish(wish)
    told = why(brief, material).why

    def own(price):
        return told.best + (price - told.price) * told.percent / 100.0

    def at(price):
        return best(brief.model_copy(update={"library": with_prices(brief.library, {material: price})}))

    for takeover, away in ((told.below, -0.3), (told.above, 0.3)):
        if takeover is not None:
            assert at(takeover.price) == pytest.approx(own(takeover.price), abs=2e-5)
        if takeover is not None and takeover.price + away > 0:
            assert at(takeover.price + away) < own(takeover.price + away) - SURE


def test_the_shortfall_of_a_mean_costs_why_no_more_than_a_hundredth_of_it():
    """The search brackets it within a hundredth; the figures of `why` are those of the search."""
    brief = with_wish(WISHES[0])
    told, exact = why(brief, "glucoside").why, design(brief).formulas[0]
    assert told.best <= exact.ranked_by + SURE
    assert told.best >= exact.ranked_by - 0.01 * exact.preferences[0].penalty - SURE
