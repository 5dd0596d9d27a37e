"""Do nine intervals in ten hold? Benches drawn with a known truth, fitted, and asked about one more wash.

A right prior is one from which the truth is drawn, the steadiness of the bench too; a wrong one expects each material
1.9 standard deviations away from where it is. A share of 0.9 among 2,000 benches has a standard deviation of 0.007
(binomial).
"""

import numpy as np
import pytest

from optiform.learning.conjugate import prior, student_t_quantile

VALUES = np.array([0.0, 0.05, 0.05, 1.5, 0.0, 0.4])
DEVIATIONS = np.array([0.005, 0.05, 0.05, 1.0, 0.1, 0.4])
LEAST, MOST = np.array([6, 3, 0.4, 1, 0.2]), np.array([14, 9, 1.4, 5, 2])
NOISE, OFF, SURE = 0.1, 1.9, 0.9
SIZES = (6, 8, 12, 20)


def washes(random, count):
    """Return blends: water for the rest, and five materials within their ranges, shape (count, 6)."""
    held = random.uniform(LEAST, MOST, size=(count, 5))
    return np.column_stack([100.0 - held.sum(axis=1), held])


def covered(benches, trials, seed, *, right):
    """Return in which part of the benches the interval holds one more reading."""
    known, random = prior(VALUES, DEVIATIONS, NOISE), np.random.default_rng(seed)
    quantile = student_t_quantile((1 + SURE) / 2, known.degrees_of_freedom + trials)
    inside = 0
    for _ in range(benches):
        noise = np.sqrt(known.rate / random.gamma(known.shape)) if right else NOISE
        off = random.standard_normal(6) * noise / NOISE if right else OFF * random.choice([-1.0, 1.0], 6)
        truth, rows = VALUES + off * DEVIATIONS, washes(random, trials + 1)
        readings = rows @ truth + noise * random.standard_normal(trials + 1)
        centre, scale = known.updated(rows[:-1], readings[:-1]).predicted(rows[-1])
        inside += abs(readings[-1] - centre) <= quantile * scale
    return inside / benches


@pytest.mark.parametrize("trials", SIZES)
def test_a_right_prior_holds_nine_times_in_ten(trials):
    assert 0.87 <= covered(2000, trials, seed=11 * trials, right=True) <= 0.93


@pytest.mark.parametrize("trials", SIZES)
def test_a_wrong_prior_widens_and_still_holds(trials):
    assert covered(2000, trials, seed=11 * trials, right=False) >= 0.87
