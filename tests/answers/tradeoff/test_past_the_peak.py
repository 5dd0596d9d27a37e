"""Trade-offs under a limit that bends with salt, where the best of one structure may bend the other way.

Oracles: a case that is solved by hand, and on random blends the exact optimum at single bounds, which
tests/program/rows/test_bent_rows.py and tests/solver/test_branching.py hold against brute force.
"""

import itertools

import numpy as np
import pytest

from optiform.answers.tradeoff import tradeoff
from optiform.brief.models import Target
from optiform.brief.reading import brief_from
from optiform.learning.conjugate import NormalInverseGamma
from optiform.measures.conditions import BenchKnowledge
from optiform.search.first_formula import first_of
from tests.taught import TRIALS, Lesson, library

WITHIN = 0.01


def wash(mean, window, *, surfactant, include=()):
    """Return a wash whose log10 of viscosity is this, known for certain, the square of salt behind the materials."""
    rows = np.column_stack([TRIALS, TRIALS[:, 3] ** 2])
    knowledge = NormalInverseGamma(np.array(mean), np.eye(6) + rows.T @ rows, 5.0, 0.02)
    salty = (0.0, 0.0, 0.0, 1.0, 0.0)
    taught = Lesson("viscosity", "log10", knowledge, rows=np.zeros((0, 6)), electrolyte=salty)
    targets = {"function:surfactant": {"at_least": surfactant}, "viscosity": window}
    mapping = {"title": "wash", "law": "none", "targets": targets, "include": list(include)}
    return brief_from(mapping, library(), known=BenchKnowledge((taught,)))


def best_by_hand(other):
    """Return the least cost with so much salt and nettle, of which nettle is 1.

    log10 = 0.12 foamer + 0.05 betaine + 0.8 * 0.9 of gum + 1.2 salt - 0.5 salt^2 is at most log10 282, and foamer and
    betaine are 14 together: the more salt thickens, the more of the dear betaine stands for foamer, at least 1.
    """
    salt = np.maximum(other - 1.0, 0.0)
    betaine = (0.12 * 14 + 0.8 * 0.9 + 1.2 * salt - 0.5 * salt**2 - np.log10(282.0)) / 0.07
    betaine = np.maximum(betaine, 1.0)
    return (4.0 * (14.0 - betaine) + 6.0 * betaine + 22.0 * 0.9 + 0.5 * salt + 9.0) / 100.0


def test_a_curve_that_bends_downwards_is_followed():
    """Salt up to its peak at 1.2 %: each further tenth thickens less and so costs less."""
    held = [{"material": "nettle", "at_least": 1.0, "at_most": 1.0}, {"material": "gum", "at_least": 0.9},
            {"material": "salt", "at_most": 1.2}, {"material": "foamer"}, {"material": "betaine"}]  # fmt: skip
    brief = wash((0.12, 0.05, 0.8, 1.2, 0.0, -0.5), {"at_most": 282.0}, surfactant=14.0, include=held)
    found = tradeoff(brief, "cost", "function:other", side="at_least", within=WITHIN)
    [curve] = found.curves
    assert found.proven and all(stretch.bracket <= WITHIN for stretch in curve.stretches)
    bounds = np.linspace(1.15, 2.19, 40)
    off = np.array([curve.at(float(bound)) for bound in bounds]) - best_by_hand(bounds)
    assert np.abs(off).max() <= 0.02 * WITHIN + 1e-6
    prices = [one.price for one in curve.stretches if one.start.bound > 1.2]
    assert prices[0] > 0.25 > 0.05 > prices[-1]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("window", [(300.0, 600.0), (2500.0, 3000.0)])
def test_random_blends_equal_the_optimum_at_each_bound(seed, window):
    draw = np.random.default_rng(seed)
    bend, peak = draw.uniform(0.3, 0.6), draw.uniform(0.8, 1.6)
    slopes = draw.uniform([0.05, 0.05, 0.6, 0.0, -0.1], [0.12, 0.15, 1.1, 0.0, 0.05])
    slopes[3] = 2.0 * bend * peak
    limits = dict(zip(("at_least", "at_most"), window, strict=True))
    brief = wash((*slopes, -bend), limits, surfactant=12.0, include=[{"material": "nettle", "at_least": 1.0}])
    for against in ("function:other", "function:surfactant"):
        curve = tradeoff(brief, "cost", against, side="at_least").curves[0]
        low, high = curve.stretches[0].start.bound, curve.stretches[-1].end.bound
        for bound in np.linspace(low, high, 9)[1:-1].tolist():
            targets = {**brief.targets, against: Target(at_least=bound)}
            best = first_of(brief.model_copy(update={"targets": targets}))
            assert curve.at(bound) == pytest.approx(best.objective, abs=3e-5)
    assert all(one.bracket is not None for one, _ in itertools.pairwise(curve.stretches))
