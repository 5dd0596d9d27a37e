"""What an answer lists is judged again from its amounts: what does not hold is never listed, and said.

So are ways out, compromises, steps, levers, rungs and the points of a curve. Oracle: formulas spoilt by hand, by a
tenth of a percent of base, or by a few percent of surfactant in place of water.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from optiform.answers.check.feasibility import check
from optiform.answers.conflict import ways_out
from optiform.answers.describe.formula import lines_of as describe_lines
from optiform.answers.design import design
from optiform.answers.evaluate.judging import AGAIN, Recheck, judged, pairs_of
from optiform.answers.rework import ladder, levers, reformulate, staircase
from optiform.answers.rework.staircase import percents_of
from optiform.answers.tradeoff import question
from optiform.answers.tradeoff.knots import Knots
from optiform.brief import brief_from
from optiform.faults import InternalError
from optiform.library import load_library
from optiform.views.render import text
from optiform.views.results.conflict import conflict_blocks
from tests.answers.rework.today import brief_of


def solved():
    asked = {
        "title": "Linden wash",
        "targets": {"active matter": {"at_least": 9.0}, "mildness": {"at_least": 50.0}},
        "include": [{"material": "sodium-benzoate"}],
    }
    brief = brief_from(asked, load_library(None))
    return brief, check(brief).formulas[0]


def spoilt(formula, by=1.0):
    """Return a formula with some of its water in place of acid or base."""
    setter = next(line for line in formula.lines if line.function in ("acid", "base"))
    change = {setter.material: -min(by, 0.9 * setter.percent), "water": min(by, 0.9 * setter.percent)}
    lines = tuple(
        replace(line, percent=line.percent + change.get(line.material, 0.0)) for line in formula.lines
    )
    return replace(formula, lines=lines)


def test_a_formula_that_breaks_a_range_of_pH_is_dropped_with_a_word():
    brief, formula = solved()
    kept, words = judged(brief, (spoilt(formula), formula))
    assert [item.lines for item in kept] == [formula.lines]
    assert kept[0].rank == 1
    (word,) = words
    assert word.startswith("Left out: a formula that does not hold")
    assert "only at a pH" in word


def test_where_nothing_is_left_it_is_an_error_of_ours():
    brief, formula = solved()
    with pytest.raises(InternalError):
        judged(brief, (spoilt(formula),))


def test_what_holds_is_wrong_in_nothing():
    brief, formula = solved()
    assert Recheck().broken(brief, pairs_of(formula.lines)) == ""


def stronger(lines):
    """Return lines with three percent more of their first surfactant in place of water."""
    wash = next(line.material for line in lines if line.function == "surfactant")
    change = {wash: 3.0, "water": -3.0}
    return tuple(replace(line, percent=line.percent + change.get(line.material, 0.0)) for line in lines)


SHELF = {
    "water", "coco-glucoside", "cocamidopropyl-betaine-30", "sodium-laureth-sulfate-28", "citric-acid-50",
    "phenoxyethanol", "ethylhexylglycerin", "sodium-hydroxide-25",
}  # fmt: skip


def few(brief):
    """Return a brief on eight materials."""
    return brief.model_copy(update={"shelf": dict.fromkeys(sorted(SHELF))})


WEAK = {"targets": {"active matter": {"at_most": 2.0}}}
DEAR = {
    "targets": {
        "cost": {"at_most": 0.5},
        "active matter": {"at_least": 6.0, "at_most": 6.5},
        "mildness": {"at_least": 80.0},
    }
}


def test_a_way_out_that_does_not_hold_is_left_out_and_said(monkeypatch):
    brief = few(brief_from({"title": "Weak wash", **WEAK}, load_library(None)))
    whole = design(brief)
    assert len(whole.conflict.single_changes) == 1
    assert not any(AGAIN in note for note in whole.notes)
    monkeypatch.setattr(ways_out, "lines_of", lambda *given: stronger(describe_lines(*given)))
    spoilt = design(brief)
    assert spoilt.conflict.single_changes == ()
    said = [note for note in spoilt.notes if AGAIN in note]
    assert any(word.startswith('Left out: a change of "active matter at most 2 % w/w"') for word in said)
    assert all("amounts: active matter at most 3 % w/w" in word for word in said)


@cache
def collided():
    """Return a brief that cannot be met, with its conflict."""
    brief = few(brief_from({"title": "Gentle, for nothing", **DEAR}, load_library(None)))
    return brief, design(brief).conflict


def test_a_compromise_that_does_not_hold_is_left_out_and_said(monkeypatch):
    brief, whole = collided()
    assert whole.compromise
    monkeypatch.setattr(ways_out, "lines_of", lambda *given: stronger(describe_lines(*given)))
    spoilt = design(brief)
    assert spoilt.conflict.compromise == () and spoilt.conflict.compromise_cost is None
    assert any(note.startswith("Left out: a compromise") for note in spoilt.notes)


def test_a_wish_whose_change_did_not_hold_is_not_said_to_be_unable_to_help(monkeypatch):
    brief, whole = collided()
    first, *others = whole.single_changes
    assert others
    holds = ways_out.WaysOut._holds

    def spoilt(ways, what, lines, *changes):
        return [item.requirement for item in changes] != [first.requirement] and holds(
            ways, what, lines, *changes
        )

    monkeypatch.setattr(ways_out.WaysOut, "_holds", spoilt)
    conflict = design(brief).conflict
    assert conflict.unconfirmed == (first.requirement,)
    assert [item.requirement for item in conflict.single_changes] == [item.requirement for item in others]
    told = text.render(conflict_blocks(conflict, "EUR/kg"))
    _, _, idle = told.partition("Giving way here alone is not enough")
    assert first.requirement.title not in idle


def test_steps_levers_and_rungs_that_do_not_hold_are_left_out_and_said(monkeypatch):
    brief = brief_of(at_most_new=2)
    whole = reformulate(brief)
    assert whole.changes.levers and len(whole.changes.steps) > 1
    assert not any(AGAIN in note for note in whole.notes)

    def spoilt(*given):
        return tuple(
            (name, percent + {"glucoside": 3.0, "water": -3.0}.get(name, 0.0))
            for name, percent in percents_of(*given)
        )

    for module in (staircase, levers, ladder):
        monkeypatch.setattr(module, "percents_of", spoilt)
    answer = reformulate(brief)
    assert {lever.requirement.measure for lever in answer.changes.levers} <= {"active matter"}
    assert len(answer.changes.levers) < len(whole.changes.levers) and len(answer.changes.steps) == 1
    assert all(not rung.percents for rung in answer.changes.ladder)
    said = [note for note in answer.notes if AGAIN in note]
    for what in ("a step on the way", "a lever", "the best formula with at most"):
        assert any(note.startswith(f"Left out: {what}") for note in said)
    assert all("active matter as today" in note for note in said)


def test_a_point_of_a_curve_that_does_not_hold_is_told_without_its_formula(monkeypatch):
    asked = {
        "title": "Curve",
        "targets": {"active matter": {"at_least": 8.0}, "pH": {"at_least": 4.8, "at_most": 5.4}},
    }
    brief = few(brief_from(asked, load_library(None)))
    whole = question.tradeoff(brief, "cost", "mildness")
    knots = whole.curves[0].knots
    assert len(knots) > 1 and all(knot.lines for knot in knots)
    assert not any(AGAIN in note for note in whole.notes)
    water = brief.library.arrays.material_index["water"]
    acid = brief.library.arrays.material_index["citric-acid-50"]
    held = Knots._at_own_strength

    def spoilt(knots, point):
        amounts = held(knots, point).copy()
        amounts[water] += 0.9 * amounts[acid]
        amounts[acid] *= 0.1
        return amounts

    monkeypatch.setattr(Knots, "_at_own_strength", spoilt)
    curve = question.tradeoff(brief, "cost", "mildness")
    wrong = [knot for knot in curve.curves[0].knots if not knot.lines]
    assert wrong
    (said,) = [note for note in curve.notes if AGAIN in note]
    assert said.startswith("Left out: the formula at ") and "citric-acid-50" in said
