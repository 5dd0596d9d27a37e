"""A compromise against brute force: SciPy on every set of materials of small washes drawn at random.

Side by side all limits that collide give the fewest sensible steps at which any set of materials works (the least of
the most steps that any of them gives); tests/naive.py shares no code with what is judged here.
"""

import numpy as np
import pytest

from optiform.answers.conflict.compromise import NEAR, PART
from optiform.answers.describe.sensible_steps import step
from optiform.answers.design import design
from optiform.brief.models import Aim, Brief, Include, Share, Target
from tests.builders import NEUTRAL, tiny_library
from tests.naive import Naive

PLACE = 0.01
"""A printed place, and what the brute force is told apart by."""

MET = 1e-6
"""What is met within this is met (convention 4)."""

KINDS = ("anionic", "amphoteric", "nonionic")
SEEDS = range(14)


def drawn(seed):
    """Return a brief of limits that mostly collide: cheap and mild, strong and short, an extract that costs."""
    random = np.random.default_rng(seed)
    washes = [
        {
            "id": f"wash-{place}",
            "function": "surfactant",
            "price": round(float(random.uniform(1.0, 6.0)), 2),
            "min_if_used": float(random.choice([0.0, 1.0, 3.0])),
            "max_use": float(random.choice([100.0, 30.0])),
        }
        for place in range(3)
    ]
    leaf = {"id": "leaf", "function": "extract", "price": round(float(random.uniform(4.0, 20.0)), 1)}
    substances = [
        {"inci": f"Wash {place}", "charge_class": kind, "mildness": float(random.integers(20, 95)), **NEUTRAL}
        for place, kind in enumerate(KINDS)
    ]
    parts = {f"wash-{place}": {f"Wash {place}": float(random.integers(25, 70))} for place in range(3)}
    targets = {
        "active matter": Target(at_least=float(random.integers(6, 20))),
        "mildness": Target(at_least=float(random.integers(60, 95))),
        "cost": Target(at_most=round(float(random.uniform(0.1, 0.6)), 2)),
    }
    share = (Share(of="anionic", at_least=float(random.integers(20, 80))),) if random.random() < 0.5 else ()
    include = (Include(material="leaf", at_least=2.0),) if random.random() < 0.5 else ()
    return Brief(
        title="drawn at random",
        library=tiny_library([*washes, leaf], substances, parts),
        law="none",
        aim=Aim(),
        targets=targets,
        share=share,
        include=include,
    )


def works(brief):
    """Tell whether any set of materials meets a brief."""
    naive = Naive(brief)
    return any(
        naive.solve(support, system) is not None for support in naive.supports() for system in naive.systems()
    )


def loosened(brief, bounds):
    """Return a brief with other bounds, by the requirement that has them."""
    targets, share, include = dict(brief.targets), list(brief.share), list(brief.include)
    for requirement, bound in bounds.items():
        change = {requirement.side: bound}
        if requirement.key.section == "targets":
            targets[requirement.measure] = targets[requirement.measure].model_copy(update=change)
        elif requirement.key.section == "share":
            share[0] = share[0].model_copy(update=change)
        else:
            include[0] = include[0].model_copy(update=change)
    fields = {"targets": targets, "share": tuple(share), "include": tuple(include)}
    return brief.model_copy(update=fields)


def away(requirement, steps):
    """Return a bound so many sensible steps looser, inside what the measure can be."""
    sign = 1.0 if requirement.side == "at_most" else -1.0
    return max((requirement.bound or 0.0) + sign * steps * step(requirement), 0.0)


def fewest(brief, movable):
    """Return the fewest steps of all limits side by side at which anything works, by halving."""
    low, high = 0.0, 1.0
    while not works(loosened(brief, {item: away(item, high) for item in movable})):
        low, high = high, 2.0 * high
        assert high < 1e4
    while high - low > PART / 2:
        middle = 0.5 * (low + high)
        if works(loosened(brief, {item: away(item, middle) for item in movable})):
            high = middle
        else:
            low = middle
    return high


def assert_least(brief, conflict):
    movable = [item for group in (conflict.requirements, *conflict.more) for item in group if item.movable]
    given = {item.requirement: item.to for item in conflict.compromise}
    assert set(given) <= set(movable)
    met = {item: to + (MET if item.side == "at_most" else -MET) for item, to in given.items()}
    assert works(loosened(brief, met))
    for requirement, to in given.items():
        back = -PLACE if requirement.side == "at_most" else PLACE
        assert not works(loosened(brief, {**given, requirement: round(to + back, 2)})), requirement.title
    most = max(abs(to - (item.bound or 0.0)) / step(item) for item, to in given.items())
    least = fewest(brief, movable)
    place = max(PLACE / step(item) for item in given)
    assert least - place - PART <= most <= least * (1.0 + NEAR) + 2 * PART + place


def test_a_compromise_is_the_least_that_brute_force_finds_and_takes_nothing_back():
    found = 0
    for seed in SEEDS:
        brief = drawn(seed)
        answer = design(brief)
        assert (answer.status == "solved") == works(brief)
        if answer.conflict is not None and answer.conflict.compromise:
            assert_least(brief, answer.conflict)
            found += 1
    assert found >= 5


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(14, 400))
def test_so_it_is_however_often_one_is_drawn(seed):
    brief = drawn(seed)
    conflict = design(brief).conflict
    if conflict is not None and conflict.compromise:
        assert_least(brief, conflict)
