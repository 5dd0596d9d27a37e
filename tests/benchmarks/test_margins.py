"""Design with two margins against the same design without, processor time in one run; opt-in."""

from __future__ import annotations

import time

import numpy as np
import pytest

from optiform.answers.design import design
from optiform.brief.models import Target
from optiform.learning.conjugate import prior
from optiform.measures.conditions import BenchKnowledge
from tests.asked import designed, problem
from tests.taught import Lesson, wash

pytestmark = pytest.mark.benchmark
BAR = 2.5
RUNS = 5
WASHES = ("nettle-gel-oily-skin", "spruce-shampoo", "first-bath-baby-mild")


def invented(name):
    """Return the brief of a shipped wash with two measures learned from invented trials about its best formula."""
    brief, rng = problem(name), np.random.default_rng(5)
    lines = designed(name).formulas[0].lines
    index = brief.library.material
    ids = tuple(line.material for line in lines)
    base = frozenset(one for one in ids if {"surfactant", "thickener"} & set(index[one].functions))
    amounts = np.array([line.percent for line in lines])
    rows = amounts * rng.uniform(0.8, 1.2, size=(9, len(ids)))
    rows[:, 0] += 100.0 - rows.sum(axis=1)
    lessons, targets = [], {}
    for measure, scale, level in (("viscosity", "log10", 3.5), ("foam", "identity", 150.0)):
        truth = np.where([one in base for one in ids], 1.0, 0.05) * rng.uniform(0.5, 1.5, len(ids))
        truth *= level / float(truth @ amounts)
        noise = 0.02 * level
        knowledge = prior(truth, np.abs(truth) * 0.5, noise).updated(
            rows, rows @ truth + noise * rng.standard_normal(9)
        )
        lessons.append(Lesson(measure, scale, knowledge, ids, base, rows))
        middle = float(knowledge.mean @ amounts) * 1.01
        targets[measure] = 10.0**middle if scale == "log10" else middle
    return brief.model_copy(update={"known": BenchKnowledge(tuple(lessons))}), targets


def asked(brief, targets, sure):
    more = {name: Target(at_least=float(least), sure=sure) for name, least in targets.items()}
    return brief.model_copy(update={"targets": {**brief.targets, **more}})


def seconds(brief):
    """Return the least processor time of a few designs, and the last answer."""
    taken = []
    for _ in range(RUNS):
        start = time.process_time()
        answer = design(brief)
        taken.append(time.process_time() - start)
    return min(taken), answer


@pytest.mark.parametrize("name", ["quay", *WASHES])
def test_two_margins_cost_little_more_than_none(name, capsys):
    if name == "quay":
        limits = {"viscosity": {"at_least": 3000.0, "at_most": 9000.0}, "foam": {"at_least": 125.0}}
        plain = wash(limits)
        sure = wash({measure: {**ends, "sure": 0.9} for measure, ends in limits.items()})
    else:
        brief, targets = invented(name)
        plain, sure = asked(brief, targets, None), asked(brief, targets, 0.9)
    (without, first), (with_margins, second) = seconds(plain), seconds(sure)
    with capsys.disabled():
        cost = "no formula" if second.margin is None else f"sure costs {second.margin.cost:.3f}"
        print(
            f"\n{name}: {without:.2f} s without, {with_margins:.2f} s with, {with_margins / without:.2f}; {cost}"
        )
    assert first.status == "solved"
    assert second.status == "solved"
    assert with_margins / without < BAR
