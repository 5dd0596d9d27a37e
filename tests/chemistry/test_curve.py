"""Titration curves: straight lines inside, nothing outside."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.chemistry import OutsideCurveError, TitrationCurve

CURVE = TitrationCurve((4.5, 5.5, 7.0), (90.0, 60.0, -15.0), name="amine oxide")


@pytest.mark.parametrize(
    ("pH", "charge"),
    [(4.5, 90.0), (5.0, 75.0), (5.5, 60.0), (6.0, 35.0), (7.0, -15.0)],
)
def test_charge_is_read_off_a_straight_line(pH, charge):
    assert CURVE.charge_at(pH) == pytest.approx(charge)


def test_slope_is_that_of_the_segment():
    assert CURVE.slope_at(4.8) == pytest.approx(-30.0)
    assert CURVE.slope_at(5.5) == pytest.approx(-50.0)
    assert CURVE.slope_at(7.0) == pytest.approx(-50.0)


@pytest.mark.parametrize("pH", [4.4999, 7.0001, math.nan])
def test_nothing_is_extrapolated(pH):
    assert not CURVE.covers(pH)
    for question in (CURVE.charge_at, CURVE.slope_at):
        with pytest.raises(OutsideCurveError, match=r"amine oxide covers pH 4\.5 to 7"):
            question(pH)


@given(st.floats(4.5, 7.0), st.floats(4.5, 7.0))
def test_charge_falls_with_pH(one, other):
    low, high = sorted((one, other))
    assert CURVE.charge_at(low) >= CURVE.charge_at(high) - 1e-12


@pytest.mark.parametrize(
    ("pH", "acid", "message"),
    [
        ((5.0,), (1.0,), "two or more"),
        ((5.0, 6.0), (1.0,), "2 pH and 1 acid"),
        ((5.0, 5.0), (2.0, 1.0), "rising pH"),
        ((6.0, 5.0), (2.0, 1.0), "rising pH"),
        ((5.0, 6.0), (1.0, 2.0), "can only fall"),
        ((5.0, math.nan), (2.0, 1.0), "finite"),
        ((5.0, 6.0), (math.inf, 1.0), "finite"),
    ],
)
def test_points_that_are_no_curve_are_refused(pH, acid, message):
    with pytest.raises(ValueError, match=message):
        TitrationCurve(pH, acid)
