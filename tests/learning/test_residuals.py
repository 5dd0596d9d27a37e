"""Published fits to the printed digits; leave-one-out against refitting without each reading."""

import numpy as np
import pytest

from optiform.learning.conjugate import NormalInverseGamma, prior, student_t_quantile
from optiform.learning.residuals import lack_of_fit, outside, residuals
from tests.learning.published import ETCH, FLARE, POLVORON, YARN, scheffe


def fitted(experiment, order):
    rows = scheffe(experiment.blends, order)
    flat = NormalInverseGamma.flat(rows.shape[1])
    after = flat.updated(rows, experiment.readings)
    return after, residuals(rows, experiment.readings, flat, after), rows


def test_yarn_quadratic():
    after, found, _ = fitted(YARN, 2)
    errors = np.sqrt(np.diag(after.covariance))
    assert errors == pytest.approx([0.603692] * 3 + [2.608249] * 3, abs=1e-6)
    assert found.square == pytest.approx(6.56)
    assert found.degrees_of_freedom == 9
    assert np.sqrt(after.residual_variance) == pytest.approx(0.853750, abs=5e-7)
    assert found.r2 == pytest.approx(0.951356, abs=5e-7)
    assert 1.0 - (1.0 - found.r2) * 14 / found.degrees_of_freedom == pytest.approx(0.924331, abs=5e-7)
    assert found.press == pytest.approx(18.295, abs=5e-4)
    assert found.r2_predicted == pytest.approx(0.864337, abs=5e-7)


def test_yarn_at_the_centre():
    after, _, _ = fitted(YARN, 2)
    row = scheffe([[1 / 3] * 3], 2)[0]
    centre, _ = after.predicted(row)
    assert centre == pytest.approx(14.811111, abs=5e-7)
    assert after.leverage(row) == pytest.approx(0.216049, abs=5e-7)
    mean_scale = np.sqrt(after.residual_variance * after.leverage(row))
    assert student_t_quantile(0.975, 9) == pytest.approx(2.26216, abs=5e-6)
    assert student_t_quantile(0.975, 9) * mean_scale == pytest.approx(0.897697, abs=5e-7)


def test_yarn_with_linear_terms_alone_lacks_fit():
    after, found, rows = fitted(YARN, 1)
    assert after.mean == pytest.approx([14.994545, 9.830909, 15.794545], abs=5e-7)
    assert found.square == pytest.approx(77.226909, abs=5e-7)
    assert found.degrees_of_freedom == 12
    lack = lack_of_fit(rows, YARN.readings)
    assert lack.error_square == pytest.approx(6.56)
    assert (lack.degrees_of_freedom, lack.error_degrees_of_freedom) == (3, 9)
    assert lack.square == pytest.approx(70.666909, abs=5e-7)
    assert lack.ratio == pytest.approx(32.31718, abs=5e-6)
    assert lack.p == pytest.approx(3.8e-5, abs=5e-7)


def test_flare_quadratic_describes_well_and_predicts_nothing():
    after, found, _ = fitted(FLARE, 2)
    linear = [-1557.4812, -2351.2800, -2426.3705, 14357.5806]
    products = [8299.6698, 8075.9064, -6608.6297, 3213.6071, -16981.8744, -17110.9611]
    assert after.mean == pytest.approx(linear + products, abs=5e-3)
    assert found.square == pytest.approx(17947.2816, abs=5e-4)
    assert found.degrees_of_freedom == 5
    assert np.sqrt(after.residual_variance) == pytest.approx(59.9121, abs=5e-5)
    assert found.r2 == pytest.approx(0.859648, abs=5e-7)
    assert 1.0 - (1.0 - found.r2) * 14 / found.degrees_of_freedom == pytest.approx(0.607014, abs=5e-7)
    assert found.r2_predicted == pytest.approx(-1.016, abs=5e-4)
    low, high = after.interval(scheffe([[0.5233, 0.2299, 0.1668, 0.0800]], 2)[0], 0.95)
    assert (low + high) / 2 == pytest.approx(397.63, abs=5e-3)
    assert (high - low) / 2 == pytest.approx(185.75, abs=5e-3)


def test_polvoron_quadratic():
    after, found, rows = fitted(POLVORON, 2)
    terms = [3.784340, 3.261566, -0.148737, 10.487968, 15.366174, 8.980014]
    assert after.mean == pytest.approx(terms, abs=5e-7)
    assert found.square == pytest.approx(0.574914, abs=5e-7)
    assert found.degrees_of_freedom == 6
    assert np.sqrt(after.residual_variance) == pytest.approx(0.309546, abs=5e-7)
    assert found.r2 == pytest.approx(0.955131, abs=5e-7)
    assert found.r2_predicted == pytest.approx(0.631396, abs=5e-7)
    lack = lack_of_fit(rows, POLVORON.readings)
    assert lack.error_square == pytest.approx(0.0878, abs=5e-5)
    assert (lack.degrees_of_freedom, lack.error_degrees_of_freedom) == (4, 2)
    assert lack.square == pytest.approx(0.487114, abs=5e-7)
    assert lack.ratio == pytest.approx(2.774, abs=5e-4)
    assert lack.p == pytest.approx(0.282, abs=5e-4)
    row = rows[-1]
    assert after.predicted(row)[0] == pytest.approx(6.413496, abs=5e-7)
    assert after.leverage(row) == pytest.approx(0.249452, abs=5e-7)
    low, high = after.interval(row, 0.95)
    assert (high - low) / 2 == pytest.approx(0.846650, abs=5e-7)
    half = student_t_quantile(0.975, 6) * np.sqrt(after.residual_variance * after.leverage(row))
    assert half == pytest.approx(0.378301, abs=5e-7)


def test_etch_needs_its_cubic_term():
    after, found, rows = fitted(ETCH, 3)
    terms = [550.1995, 344.7233, 268.2948, 689.5370, -9.0344, 58.1085, 9243.3333]
    assert after.mean == pytest.approx(terms, abs=5e-5)
    assert found.square == pytest.approx(7823.782, abs=5e-4)
    assert found.degrees_of_freedom == 7
    assert found.r2 == pytest.approx(0.983660, abs=5e-7)
    lack = lack_of_fit(rows, ETCH.readings)
    assert lack.ratio == pytest.approx(3.27737, abs=5e-6)
    assert (lack.degrees_of_freedom, lack.error_degrees_of_freedom) == (3, 4)
    assert lack.p == pytest.approx(0.1408, abs=5e-5)
    _, found, rows = fitted(ETCH, 2)
    assert found.square == pytest.approx(115701.57, abs=5e-3)
    assert found.r2_predicted == pytest.approx(-0.696, abs=5e-4)
    lack = lack_of_fit(rows, ETCH.readings)
    assert lack.ratio == pytest.approx(50.13882, abs=5e-6)
    assert lack.p == pytest.approx(0.00113, abs=5e-6)


def test_lack_of_fit_is_not_tested_without_repeats():
    rows = scheffe(FLARE.blends, 1)
    assert lack_of_fit(rows, FLARE.readings) is None  # fifteen blends, none of them twice
    one_pair = np.vstack([rows, rows[:1]])
    assert lack_of_fit(one_pair, np.append(FLARE.readings, 80.0)) is None  # one repeat alone


@pytest.mark.parametrize("known", [False, True])
def test_leave_one_out_is_a_refit_without_the_reading(known):
    rows, readings = scheffe(POLVORON.blends, 2), POLVORON.readings
    before = prior([4, 4, 4, 5, 5, 5], [3] * 6, 0.3) if known else NormalInverseGamma.flat(6)
    found = residuals(rows, readings, before, before.updated(rows, readings))
    for i in range(len(readings)):
        others = before.updated(np.delete(rows, i, 0), np.delete(readings, i))
        assert found.left_out[i] == pytest.approx(readings[i] - rows[i] @ others.mean, rel=1e-6)


def test_a_reading_that_alone_tells_a_term_has_no_prediction():
    rows, readings = np.array([[1.0, 0], [1, 0], [0, 1]]), np.array([1.0, 2, 5])
    flat = NormalInverseGamma.flat(2)
    found = residuals(rows, readings, flat, flat.updated(rows, readings))
    assert found.press is None
    assert found.r2_predicted is None
    assert np.isnan(found.left_out).tolist() == [False, False, True]


def test_the_reading_that_the_others_would_not_have_predicted_is_flagged():
    """The flag is that of a refit without the reading, whose 95 % interval it must leave."""
    rows, readings = scheffe(POLVORON.blends, 2), POLVORON.readings.copy()
    readings[9] += 3.0
    before = prior([4, 4, 4, 5, 5, 5], [3] * 6, 0.3)
    after = before.updated(rows, readings)
    flagged = outside(residuals(rows, readings, before, after), after)
    for i in range(len(readings)):
        low, high = before.updated(np.delete(rows, i, 0), np.delete(readings, i)).interval(rows[i], 0.95)
        assert flagged[i] == (not low <= readings[i] <= high)
    assert flagged[9]
