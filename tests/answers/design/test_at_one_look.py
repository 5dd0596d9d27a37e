"""Where only the first formula is priced and weighed, a reader sees at one look what the whole answer shows there."""

from __future__ import annotations

import pytest

from optiform.answers.design import design
from optiform.views.forms import result_of
from tests.answers.design.test_close_up import NAMES
from tests.asked import designed, problem

QUICK = ("cat-food-blend", "sea-buckthorn-emulsion-wash")


@pytest.mark.parametrize(
    "name", [name if name in QUICK else pytest.param(name, marks=pytest.mark.slow) for name in NAMES]
)
def test_the_first_screen_is_that_of_the_whole_answer(name):
    whole, short = designed(name), design(problem(name), first_alone=True)
    assert result_of(short).to_text() == result_of(whole).to_text()
    for one, other in zip(whole.formulas, short.formulas, strict=True):
        assert [(line.material, line.percent) for line in one.lines] == [
            (line.material, line.percent) for line in other.lines
        ]
    assert all(not formula.binding and formula.weighable is None for formula in short.formulas[1:])


def test_where_the_first_is_dropped_the_next_is_told_in_its_place(monkeypatch):
    """A formula that does not hold when it is judged again leaves its place, and its prices, to another one."""
    from importlib import import_module

    module = import_module("optiform.answers.design.formulas")
    judged = module.judged

    def without_first(brief, formulas):
        kept, said = judged(brief, formulas[1:])
        return kept, (*said, "Left out: a formula.")

    monkeypatch.setattr(module, "judged", without_first)
    brief = problem("sea-buckthorn-emulsion-wash")
    one = brief.model_copy(update={"ranked": brief.ranked.model_copy(update={"how_many": 1})})
    first = design(one, first_alone=True).formulas[0]
    assert first.binding
    assert first.weighable is not None
