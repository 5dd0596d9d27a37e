"""Conjugate regression: a worked example by hand, least squares as its limit, and what the order must not change."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.learning.conjugate import NormalInverseGamma, prior, prior_share, student_t_quantile
from tests.learning.published import YARN, scheffe

# Worked by numpy from the textbook formulas, in matrices of 3 x 3 that a pocket calculator can follow.
ROWS = np.array([[8, 3, 0.5], [8, 3, 1.5], [6, 5, 1], [8, 3, 1]])
READINGS = np.array([2.60, 3.55, 2.95, 3.10])
BEFORE = prior([0.20, 0.15, 0.80], [0.10, 0.10, 0.40], 0.15)
AFTER = BEFORE.updated(ROWS, READINGS)
THERE = np.array([7, 4, 1.2])


def test_the_worked_example():
    assert BEFORE.shape == 2
    assert BEFORE.rate == pytest.approx(0.045)
    assert np.allclose(AFTER.precision, [[230.25, 102, 30], [102, 54.25, 14], [30, 14, 4.640625]], atol=1e-9)
    assert np.allclose(AFTER.mean, [0.21363905, 0.15015030, 0.92147598], atol=5e-9)
    assert AFTER.shape == 4
    assert AFTER.rate == pytest.approx(0.04667474, abs=5e-9)
    assert np.sqrt(AFTER.residual_variance) == pytest.approx(0.10802169, abs=5e-9)


def test_the_prediction_of_the_worked_example_before_and_after():
    low, high = BEFORE.interval(THERE, 0.95)
    assert (low + high) / 2 == pytest.approx(2.96)
    assert (high - low) / 2 == pytest.approx(2.638207, abs=5e-7)
    centre, scale = AFTER.predicted(THERE)
    assert centre == pytest.approx(3.20184568, abs=5e-9)
    assert scale == pytest.approx(0.12652611, abs=5e-9)
    low, high = AFTER.interval(THERE, 0.95)
    assert (high - low) / 2 == pytest.approx(0.29176974, abs=5e-8)
    assert AFTER.leverage(THERE) == pytest.approx(0.37195027, abs=5e-9)
    assert AFTER.degrees_of_freedom == 8


def test_a_flat_prior_is_least_squares():
    fitted = NormalInverseGamma.flat(6).updated(scheffe(YARN.blends, 2), YARN.readings)
    assert np.allclose(fitted.mean, [11.7, 9.4, 16.4, 19.0, 11.4, -9.6], atol=1e-9)
    assert fitted.residual_variance == pytest.approx(6.56 / 9, abs=1e-9)
    low, high = fitted.interval(scheffe([[1 / 3] * 3], 2)[0], 0.95)
    assert (high - low) / 2 == pytest.approx(2.129752, abs=5e-7)


@settings(max_examples=30, deadline=None)
@given(st.permutations(range(4)), st.integers(1, 3))
def test_order_and_parts_change_nothing(order, cut):
    order = list(order)
    first = BEFORE.updated(ROWS[order[:cut]], READINGS[order[:cut]])
    both = first.updated(ROWS[order[cut:]], READINGS[order[cut:]])
    assert np.allclose(both.mean, AFTER.mean, atol=1e-9)
    assert both.rate == pytest.approx(AFTER.rate, rel=1e-9)


def test_the_prior_share_falls_to_nothing_with_readings():
    assert np.allclose(prior_share(BEFORE, BEFORE), 1.0)
    many = BEFORE.updated(np.tile(ROWS, (2000, 1)), np.tile(READINGS, 2000))
    assert np.all(prior_share(BEFORE, many) < 0.01)
    shares = prior_share(BEFORE, AFTER)
    assert np.allclose(shares, np.diag(np.linalg.inv(AFTER.precision) @ BEFORE.precision))


def test_a_coefficient_has_the_interval_of_a_row_without_noise():
    low, high = AFTER.coefficient_interval(2, 0.9)
    half = student_t_quantile(0.95, 8) * np.sqrt(AFTER.covariance[2, 2])
    assert (low, high) == pytest.approx((AFTER.mean[2] - half, AFTER.mean[2] + half))


def test_arrays_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        AFTER.mean[0] = 1
