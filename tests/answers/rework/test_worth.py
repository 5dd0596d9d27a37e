"""What is not worth a new formula is said in one line; what is told agrees with itself; an index has no decimals."""

import itertools
import json
import re

import pytest

from optiform.answers.describe.sensible_steps import worth_of
from optiform.answers.design import design
from optiform.answers.rework import levers, reformulate
from optiform.answers.tradeoff import tradeoff
from optiform.brief import brief_from
from optiform.brief.models import Aim, Choose, Ranked, Target
from optiform.faults import BadInput
from optiform.views.render import text
from optiform.views.results.reformulation import lever, saving
from optiform.views.screens import answer_blocks, tradeoff_blocks
from tests.answers.rework.today import STARTER_TODAY, TODAY, brief_of, starter
from tests.answers.tradeoff.test_tradeoff import SURFACTANTS, library_of
from tests.answers.tradeoff.test_tradeoff import brief_of as curve_brief

EXACT = {"active matter": 0.0, "mildness": 0.0}
MILD = {
    "aim": Aim(measure="mildness", sense="maximise"),
    "targets": {"cost": {"at_most": 2.9}},
    "hold": {"active matter": 0.5},
}


def best_lines():
    """Return the best formula of today's brief: itself a baseline that cannot gain anything."""
    found = reformulate(brief_of(at_most_new=2, hold=EXACT)).formulas[0]
    return tuple((line.material, line.percent) for line in found.lines)


def test_worth_is_a_part_of_the_aim_or_five_points():
    brief = brief_of(worth=0.02)
    assert worth_of(brief, "EUR/kg", -2.5) == pytest.approx(0.05)
    assert worth_of(brief, "points", 74.0) == 5.0
    assert worth_of(brief_of(worth=0.0), "points", 74.0) == 0.0
    assert brief_from({"title": "t", "targets": {"active matter": {"at_least": 8.0}}}).worth == 0.02


def test_a_part_that_is_none_is_refused():
    with pytest.raises(BadInput, match="worth"):
        brief_from({"title": "t", "targets": {"cost": {"at_most": 8.0}}, "worth": -0.1})


def test_a_formula_that_cannot_gain_enough_is_left_alone():
    best = dict(best_lines())
    dearer = {**best, "water": best["water"] - 1.0, "glycerin": best.get("glycerin", 0.0) + 1.0}
    lines, asked = tuple(dearer.items()), {"hold": EXACT, "at_most_new": 2}
    gains = reformulate(brief_of(lines, worth=0.0, **asked))
    assert 0 < gains.changes.saving < 0.02 * gains.baseline.aim
    answer = reformulate(brief_of(lines, worth=0.02, **asked))
    assert (answer.status, answer.formulas, answer.changes) == ("solved", (), None)
    assert answer.leave.saving == pytest.approx(gains.changes.saving, abs=1e-9)
    assert answer.leave.worth == pytest.approx(0.02 * answer.baseline.aim)
    told = " ".join(text.render(answer_blocks(answer)).split())
    (near,) = re.findall(r"Today's formula is within ([\d.]+) EUR/kg of the best: leave it\.", told)
    assert answer.leave.saving <= float(near) + 1e-9 and float(near) - answer.leave.saving < 0.01
    assert json.loads(answer.to_json())["leave"]["saving"] == answer.leave.saving


def test_what_breaks_something_is_never_left_alone():
    lines = tuple((name, 9.0 if name == "glucoside" else value) for name, value in TODAY)
    answer = reformulate(brief_of(lines, targets={"active matter": {"at_least": 14.0}}, hold={}, worth=1.0))
    assert answer.leave is None and answer.formulas


@pytest.mark.parametrize("worth", [0.02, 0.1])
def test_steps_and_rungs_below_worth_are_no_steps_of_their_own(worth):
    """Steps still add up and end at the result; each but a last one, and each rung, brings its worth."""
    answer = reformulate(brief_of(at_most_new=2, worth=worth))
    plain = reformulate(brief_of(at_most_new=2, worth=0.0)).changes
    changes, least = answer.changes, worth * answer.baseline.aim
    assert changes.saving == pytest.approx(plain.saving) and len(changes.steps) <= len(plain.steps)
    assert sum(step.saving for step in changes.steps) == pytest.approx(changes.saving, abs=1e-9)
    assert changes.steps[-1].percents == plain.steps[-1].percents
    assert len(changes.steps) == 1 or all(step.saving >= least - 1e-9 for step in changes.steps)
    rungs = changes.ladder
    for before, rung in itertools.pairwise(rungs):
        assert rung.saving - before.saving >= least - 1e-9
    assert {rung.at_most_new: rung.aim for rung in plain.ladder}.items() >= {
        rung.at_most_new: rung.aim for rung in rungs
    }.items()
    assert all(item.saving > least for item in changes.levers)


def test_the_two_ways_are_each_solved_and_said_to_count_by_themselves():
    brief = brief_of(at_most_new=2)
    changes = reformulate(brief).changes
    same = brief.baseline.model_copy(update={"at_most_new": 0, "at_most_dropped": 0})
    alone = reformulate(brief.model_copy(update={"baseline": same}))
    assert changes.amounts == pytest.approx(alone.baseline.aim - alone.formulas[0].aim, abs=1e-6)
    assert max(changes.amounts, changes.choices) <= changes.saving + 1e-9
    told = saving(changes, reformulate(brief))
    assert "Each way by itself: today's materials alone" in told


def test_a_lever_says_what_it_frees_and_what_that_buys():
    """What is bought is solved: with the lever moved and the bought bound as a wall the cost is no higher."""
    brief = brief_of(at_most_new=2, targets={"mildness": {"at_least": 62.0}}, hold={"active matter": 0.5})
    answer = reformulate(brief)
    buying = [item for item in answer.changes.levers if item.buys is not None]
    assert buying
    for item in buying:
        assert f"would free {item.saving:.2f} EUR/kg" in lever(item, "EUR/kg")
        assert "which buys" in lever(item, "EUR/kg")
    found = next(item for item in buying if item.buys.measure == "mildness")
    assert found.buys.to == round(found.buys.to) and found.buys.to >= found.buys.before + 5.0
    keep = tuple(word for word in brief.baseline.keep if word != found.requirement.measure.partition(":")[2])
    name = found.requirement.measure.partition(":")[2]
    moved = brief_of(
        at_most_new=2,
        keep=keep,
        hold={"active matter": 0.5},
        targets={"mildness": {"at_least": found.buys.to}},
        include=({"material": name, "at_least": found.to, "at_most": found.to},),
    )
    assert reformulate(moved).formulas[0].aim <= answer.formulas[0].aim + 1e-6


def test_what_a_lever_buys_holds_at_the_ionic_strength_of_its_own_formula():
    """A held pH moves with the ionic strength: solved afresh with both bounds moved, the cost is no higher."""
    held = {"library": starter(), "hold": {"active matter": 0.2, "pH": 0.2}}
    more = {"at_most_new": 2, "at_most_dropped": 2}
    keep = ("nettle-extract", "disodium-edta", "function:thickener", "sodium-benzoate", "potassium-sorbate")
    brief = brief_of(STARTER_TODAY, keep=keep, targets={"mildness": {"at_least": 60.0}}, **held, **more)
    answer = reformulate(brief)
    (found,) = (
        item for item in answer.changes.levers if item.requirement.measure == "material:nettle-extract"
    )
    moved = brief_of(
        STARTER_TODAY,
        keep=keep[1:],
        targets={"mildness": {"at_least": found.buys.to}},
        include=({"material": "nettle-extract", "at_least": found.to, "at_most": found.to},),
        **held,
        **more,
    )
    assert reformulate(moved).formulas[0].aim <= answer.formulas[0].aim + 1e-6


def test_what_does_not_hold_at_its_own_ionic_strength_is_not_bought(monkeypatch):
    brief = brief_of(at_most_new=2, targets={"mildness": {"at_least": 62.0}}, hold={"active matter": 0.5})
    assert any(item.buys for item in reformulate(brief).changes.levers)
    monkeypatch.setattr(levers, "_affords", lambda *given: False)
    assert not any(item.buys for item in reformulate(brief).changes.levers)


def test_an_index_has_no_decimals_and_no_percent():
    answer = reformulate(brief_of(at_most_new=1, **MILD))
    told = text.render(answer_blocks(answer)).split("What it brings")[1].split("Line by line")[0]
    assert "points more mildness than today" in told
    assert "%." not in told.split("Step by step")[0]
    assert not re.search(r"\d\.\d+ points", told)
    first = brief_of(**MILD).model_copy(update={"ranked": Ranked(how_many=1)})
    full = text.render(answer_blocks(design(first, in_full=True), everything=True))
    assert not re.search(r"\d\.\d+ points(?! x)", full)


def test_flips_below_worth_are_not_told_and_the_curve_stays():
    """Two washes all but alike take turns along the curve; where that gains less than worth it is no flip."""
    rows = {**SURFACTANTS, "soft-twin": (3.605, 30.0, 75.2, "amphoteric", 2.0)}
    brief = curve_brief(library_of(rows), choose=(Choose(function="surfactant", at_least=1, at_most=2),))
    told = tradeoff(brief.model_copy(update={"worth": 0.02}), "cost", "mildness").curve.stretches
    every = tradeoff(brief.model_copy(update={"worth": 0.0}), "cost", "mildness").curve.stretches
    assert [(s.start.bound, s.start.value, s.end.value) for s in told] == [
        (s.start.bound, s.start.value, s.end.value) for s in every
    ]
    flips = [s for s in told if s.change]
    assert 0 < len(flips) < len([s for s in every if s.change])


def test_bounds_of_an_index_are_whole_on_the_screen():
    brief = curve_brief(library_of(SURFACTANTS), choose=(Choose(function="surfactant", at_most=2),))
    brief = brief.model_copy(update={"targets": {**brief.targets, "mildness": Target(at_least=62.0)}})
    for everything in (False, True):
        shown = text.render(tradeoff_blocks(tradeoff(brief, "cost", "mildness"), everything=everything))
        assert not re.search(r"\d\.\d+ points", shown)
