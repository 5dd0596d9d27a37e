"""Whole steps of a balance hold the margin of the next reading, and a mixture of trials stays one."""

import itertools

import numpy as np
import pytest
from scipy.stats import t as student

from optiform.answers.weigh.weighable import weigh
from optiform.brief.models import Weighing
from optiform.program import breaks, complete
from optiform.search.first_formula import first_of
from tests.taught import TERMS, TRIALS, Gate, lesson, library, wash

SURE = {"viscosity": {"at_least": 3000.0, "sure": 0.9, "tried": "beyond"}}


def test_no_steps_near_the_best_are_cheaper_and_sure():
    """Every formula within 1.2 % of foamer and betaine, 1 % of gum and 3 % of salt is tried; the margin is scipy's."""
    found = first_of(wash(SURE))
    steps = weigh(found.program, found.values, Weighing(batch_g=100.0, balance_g=0.1, error_percent=50.0))
    names = [material.id for material in library().materials]
    places = [names.index(name) for name in TERMS]
    used = found.amounts[places] > 0
    knowledge = lesson().knowledge
    reach = (12, 12, 10, 30, 0)
    around = np.round(10.0 * found.amounts[places]).astype(int)
    spans = [
        np.arange(max(middle - room, 1), middle + room + 1) if there else np.zeros(1, dtype=int)
        for middle, room, there in zip(around, reach, used, strict=True)
    ]
    grid = np.array(list(itertools.product(*spans))) / 10.0
    spread = np.sqrt(
        knowledge.residual_variance * (1.0 + np.einsum("ij,jk,ik->i", grid, knowledge.inverse, grid))
    )
    sure = grid @ knowledge.mean - student.ppf(0.9, knowledge.degrees_of_freedom) * spread
    low, high = np.array([1.0, 1.0, 0.1, 0.001, 1.0]), np.array([20.0, 12.0, 2.0, 3.0, 5.0])
    held = (sure >= np.log10(3000.0) - 1e-9) & (grid[:, 0] + grid[:, 1] >= 12.0 - 1e-9)
    held &= ((grid >= low - 1e-9) & (grid <= high + 1e-9) | ~used).all(axis=1)
    cost = grid @ np.array([4.0, 6.0, 22.0, 0.5, 9.0]) / 100.0
    assert steps.aim == pytest.approx(float(cost[held].min()), abs=1e-9)


def test_steps_of_a_mixture_of_trials_lie_inside():
    brief = wash(
        {"foam": {"at_least": 90.0}, "one phase": {"reading": "yes"}},
        gates=[Gate("one phase", TRIALS[[0, 1, 2, 3, 4, 6]])],
    )
    found = first_of(brief)
    steps = weigh(found.program, found.values, Weighing(batch_g=1000.0, balance_g=0.1, error_percent=50.0))
    amounts = np.zeros(found.program.size)
    for material, percent in steps.percents:
        amounts[library().arrays.material_index[material]] = percent
    assert breaks(found.program, complete(found.program, amounts)) == ()
