"""How far amounts may move, what can be spared, and what wishes cost, against solving again."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings

from optiform.answers.conflict.typed_back import _at
from optiform.answers.describe.sensible_steps import step
from optiform.answers.design import design
from optiform.answers.price.allowances import allowance_of, with_ranges
from optiform.brief import brief_from
from optiform.brief.models import Aim, Choose, Exclude, Include, Target
from optiform.program import build, reduce
from optiform.search.fixed_choices import polish
from optiform.search.ionic_strength import ground
from optiform.solver import Session
from tests.answers.conflict.test_conflict import wash
from tests.answers.random_briefs import briefs, possible

RANDOM = settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
EQUAL = 1e-5


def best(brief) -> float:
    """Return the best aim of a brief, stated and solved afresh; infinite where there is none."""
    return float(ground(build(brief)).first.objective)


@RANDOM
@given(briefs())
def test_each_range_ends_where_the_allowance_is_used_up(brief):
    assume(possible(brief))
    formula = design(brief).formulas[0]
    program = build(brief)
    exact = polish(program, ground(program).first.values)
    assume(formula.aim == pytest.approx(exact.objective, abs=1e-9))
    reduced = reduce(exact.program, exact.values)
    index = program.library.arrays.material_index
    ceiling = exact.objective + allowance_of(exact.objective, program.aim.unit) + 1e-9
    for line in with_ranges(formula, exact).lines:
        assert line.low <= line.percent <= line.high
        column = int(reduced.position[index[line.material]])
        assume(column >= 0)  # of two formulas equally good, the design may list the other
        for end, beyond in ((line.low, -1.0), (line.high, 1.0)):
            session = Session(reduced.form)
            at = min(max(end, 0.0), 100.0)
            session.set_column_bounds(
                column, at - EQUAL if beyond > 0 else 0.0, 100.0 if beyond > 0 else at + EQUAL
            )
            assert session.solve().objective <= ceiling + EQUAL
            past = at + beyond * 0.001
            if past >= 0:
                session.set_column_bounds(column, past if beyond > 0 else 0.0, 100.0 if beyond > 0 else past)
                outcome = session.solve()
                assert outcome.values is None or outcome.objective > ceiling - EQUAL


def test_an_allowance_is_added_and_never_multiplies_a_negative_aim():
    """Aiming for the most is minimising its negative: the allowance must still loosen.

    The dearest filling: 20 % gentle at 5, 1 % gum at 12, 79 % oat at 8: 1.00 + 0.12 + 6.32 = 7.44 per kg.
    """
    brief = wash(
        targets={"active matter": Target(at_least=10.0, at_most=10.0)},
        aim=Aim(measure="cost", sense="maximise"),
    )
    (formula, *_) = design(brief).formulas
    assert formula.aim == pytest.approx(7.44, abs=1e-6)
    assert formula.allowance == pytest.approx(0.0744, abs=1e-8)
    assert any(line.low < line.percent - 0.1 for line in formula.lines)
    for line in formula.lines:
        assert line.low <= line.percent <= line.high


@pytest.mark.parametrize(("percent", "dearer"), [(0.0, 0.0), (1.0, 0.006), (5.0, 0.03)])
def test_the_brief_says_how_large_the_allowance_is(percent, dearer):
    """Half and half costs 0.60. A percent of gentle for one of harsh costs 0.05 - 0.01 = 0.04."""
    brief = brief_from(
        {
            "title": "wash",
            "law": "none",
            "targets": {"active matter": {"at_least": 10.0}, "mildness": {"at_least": 65.0}},
            "ranked": {"allowance": percent},
        },
        library=wash().library,
    )
    (formula, *_) = design(brief).formulas
    assert formula.allowance == pytest.approx(dearer, abs=1e-7)
    gentle = next(line for line in formula.lines if line.material == "gentle")
    assert gentle.high == pytest.approx(10.0 + dearer / 0.04, abs=1e-4)


@RANDOM
@given(briefs())
def test_the_cost_of_each_wish_is_that_of_the_brief_with_the_step_typed_in(brief):
    assume(possible(brief))
    answer = design(brief, in_full=True)
    here = best(brief)
    assert answer.wishes
    for wish in answer.wishes:
        requirement = wish.requirement
        assert abs(wish.tighter - requirement.bound) == pytest.approx(step(requirement), abs=1e-6)
        for to, told in (
            (wish.tighter, wish.cost),
            (wish.looser, None if wish.saving is None else -wish.saving),
        ):
            outside = to < 0 or (requirement.unit.startswith("%") and to > 100)
            if outside or (requirement.key.section == "include" and to <= 0):
                continue
            there = best(_at(brief, requirement, to))
            if told is None:
                assert np.isinf(there)
            else:
                assert there - here == pytest.approx(told, abs=EQUAL)
        if wish.free_to is not None:
            assert best(_at(brief, requirement, wish.free_to)) == pytest.approx(here, abs=EQUAL)


@RANDOM
@given(briefs())
def test_what_a_formula_can_do_without(brief):
    assume(possible(brief))
    formula = design(brief, in_full=True).formulas[0]
    for line in formula.lines:
        if line.function == "water":
            continue
        there = best(brief.model_copy(update={"exclude": (*brief.exclude, Exclude(material=line.material))}))
        if line.without is None:
            assert np.isinf(there)
            assert line.role == "essential"
            continue
        assert line.without == pytest.approx(there, abs=EQUAL)
        within = there <= formula.aim + formula.allowance
        assert (line.role == "essential") is not within


def test_an_already_free_improvement_is_named():
    """Only the gentle surfactant is left: mildness 90 comes with it, whatever less was asked."""
    brief = wash(
        targets={"active matter": Target(at_least=10.0), "mildness": Target(at_least=70.0)},
        choose=(Choose(among=("harsh",), at_most=0),),
    )
    wishes = {wish.requirement.measure: wish for wish in design(brief, in_full=True).wishes}
    assert wishes["mildness"].free_to == 90.0
    assert wishes["mildness"].cost == 0.0
    assert wishes["active matter"].free_to is None


def test_a_degenerate_optimum_is_told_with_both_costs():
    """Two limits ask for the same 2 % of oat: tightening either costs 0.08 per %, loosening one alone saves nothing."""
    brief = wash(
        targets={"function:extract": Target(at_least=2.0)},
        include=(Include(material="oat", at_least=2.0),),
    )
    binding = {str(item.requirement.key): item for item in design(brief).formulas[0].binding}
    assert set(binding) == {"targets/function:extract/at_least", "include/1/at_least"}
    for item in binding.values():
        assert item.degenerate
        assert item.marginal_cost == pytest.approx(0.08, abs=1e-6)
        assert item.marginal_cost_back == pytest.approx(0.0, abs=1e-6)
