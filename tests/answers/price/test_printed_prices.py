"""On the starter library: each marginal cost, and how far it holds, is what SciPy makes of a fresh statement."""

import numpy as np
import pytest

from optiform.program import at_strength, build, complete
from tests.answers.design.test_guards import answer_for, brief_for, starter
from tests.answers.moving import moved
from tests.oracles import dense

STEPS = (1e-3, 1e-4)


def solved(brief, strength, choices, requirement=None, bound=None):
    """Return the least cost, choices fixed, of a program built anew with one bound moved; None if there is none."""
    from scipy.optimize import linprog

    program = at_strength(build(brief if requirement is None else moved(brief, requirement, bound)), strength)
    form, matrix = program.form, dense(program.form)
    lower, upper = form.lower.copy(), form.upper.copy()
    lower[form.integer] = upper[form.integer] = np.round(choices[form.integer])
    above, below = np.isfinite(form.row_lower), np.isfinite(form.row_upper)
    found = linprog(
        form.objective,
        A_ub=np.vstack([-matrix[above], matrix[below]]),
        b_ub=np.concatenate([-form.row_lower[above], form.row_upper[below]]),
        bounds=np.column_stack([lower, upper]),
        method="highs",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    return found.fun if found.status == 0 else None


@pytest.mark.parametrize(
    ("skin", "texture"), [("dry-sensitive", "gel"), pytest.param("oily", "lotion", marks=pytest.mark.slow)]
)
def test_printed_marginal_costs_on_the_starter_library(skin, texture):
    brief, formula = brief_for(skin, texture), answer_for(skin, texture).formulas[0]
    amounts = starter().arrays.amounts((line.material, line.percent) for line in formula.lines)
    strength = formula.acidity.ionic_strength
    choices = complete(at_strength(build(brief), strength), amounts)
    base = solved(brief, strength, choices)
    assert base == pytest.approx(formula.cost, abs=1e-5)
    told = [b for b in formula.binding if b.requirement.origin == "brief" and b.requirement.measure != "pH"]
    assert len(told) >= 4
    for binding in told:
        requirement, cost = binding.requirement, binding.marginal_cost
        away = -1.0 if requirement.side == "at_most" else 1.0
        if cost is None:
            assert solved(brief, strength, choices, requirement, requirement.bound + away * STEPS[0]) is None
            continue
        slopes = [
            (solved(brief, strength, choices, requirement, requirement.bound + away * step) - base) / step
            for step in STEPS
        ]
        assert any(slope == pytest.approx(cost, rel=0.03, abs=1e-5) for slope in slopes), (
            requirement.title,
            cost,
            slopes,
        )
        for end in (binding.holds_from, binding.holds_to):
            if abs(end - requirement.bound) > 0.01:
                held_to(brief, strength, choices, binding, end, base)


def held_to(brief, strength, choices, binding, end, base):
    """Within an interval every bound costs what is told; just past its end it does not, or nothing is possible."""
    requirement, away = binding.requirement, -1.0 if binding.requirement.side == "at_most" else 1.0
    outwards = 1.0 if end > requirement.bound else -1.0
    own = binding.marginal_cost if outwards == away else binding.marginal_cost_back
    there = solved(brief, strength, choices, requirement, end - outwards * 1e-5)
    slope = away * (there - base) / (end - requirement.bound)
    assert slope == pytest.approx(own, rel=0.03, abs=1e-5), (requirement.title, end)
    past = [end + outwards * step for step in (0.002, 0.004)]
    one, two = (solved(brief, strength, choices, requirement, bound) for bound in past)
    if one is not None and two is not None and past[0] > 0:
        assert away * (two - one) / (past[1] - past[0]) != pytest.approx(own, rel=0.01, abs=1e-5), (
            requirement.title,
            end,
        )
