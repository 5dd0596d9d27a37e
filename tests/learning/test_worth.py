"""Variance after a trial, and the knowledge gradient against integration by numbers."""

import numpy as np
import pytest
from scipy import integrate, stats

from optiform.learning.conjugate import prior
from optiform.learning.worth import draws, expected_largest, knowledge_gradient, leverage_after
from tests.learning.test_conjugate import AFTER, THERE

TRIALS = {(6, 5, 1.5): 0.21435924, (7, 4, 1.2): 0.27111060, (8, 3, 2): 0.27835767, (5, 6, 0.5): 0.32274326}


@pytest.mark.parametrize(("trial", "left"), TRIALS.items())
def test_a_trial_narrows_a_prediction_before_it_is_read(trial, left):
    assert leverage_after(AFTER, THERE, np.array(trial)) == pytest.approx(left, abs=1e-8)


@pytest.mark.parametrize("reading", [-3.0, 3.2, 50.0])
def test_the_reading_changes_nothing_of_it(reading):
    trial = np.array([6, 5, 1.5])
    read = AFTER.updated([trial], [reading])
    assert read.leverage(THERE) == pytest.approx(leverage_after(AFTER, THERE, trial))


def test_repeating_the_formula_is_not_the_best_teacher():
    assert min(TRIALS, key=TRIALS.get) != (7, 4, 1.2)


def by_numbers(means, slopes):
    z = np.linspace(-10, 10, 200_001)
    return integrate.trapezoid((means[:, None] + slopes[:, None] * z).max(axis=0) * stats.norm.pdf(z), z)


@pytest.mark.parametrize("seed", range(5))
def test_the_envelope_is_integrated_exactly(seed):
    random = np.random.default_rng(seed)
    means, slopes = random.normal(size=7), random.normal(size=7)
    slopes[3] = slopes[2]
    assert expected_largest(means, slopes) == pytest.approx(by_numbers(means, slopes), abs=1e-7)


def test_two_lines_by_hand():
    """max(0, Z) has the expectation 1 / sqrt(2 pi)."""
    assert expected_largest(np.zeros(2), np.array([0.0, 1.0])) == pytest.approx(1 / np.sqrt(2 * np.pi))


def test_a_trial_that_can_change_no_choice_is_worth_nothing():
    known = prior([1.0, 5.0], [0.01, 0.01], 0.1)
    rows = np.eye(2)
    assert knowledge_gradient(known, rows, rows[0]) == pytest.approx(0.0, abs=1e-12)
    assert knowledge_gradient(prior([1.0, 1.0], [1, 1], 0.1), rows, rows[0]) > 0.3


def test_draws_have_the_mean_and_spread_of_what_is_known():
    """Student's t with 8 degrees of freedom: mean m, variance scale * 8 / 6."""
    found = draws(AFTER, 20_000, seed=5)
    errors = np.sqrt(np.diag(AFTER.covariance) * 8 / 6)
    assert np.abs(found.mean(axis=0) - AFTER.mean).max() < 4 * errors.max() / np.sqrt(20_000)
    assert found.std(axis=0) == pytest.approx(errors, rel=0.05)
    assert np.array_equal(draws(AFTER, 3, seed=5), draws(AFTER, 3, seed=5))
