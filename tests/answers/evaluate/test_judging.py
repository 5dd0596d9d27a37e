"""What an answer lists is judged again from its amounts: what does not hold is never listed, and said.

Oracle: a formula spoilt by hand, by a tenth of a percent of base.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from optiform.answers.check.feasibility import check
from optiform.answers.evaluate.judging import judged, wrong_in
from optiform.brief import brief_from
from optiform.faults import InternalError
from optiform.library import load_library


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
    assert wrong_in(brief, [(line.material, line.percent) for line in formula.lines]) == ""
