"""The root finder on functions whose roots are known."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.chemistry.roots import falling_root


@given(st.floats(-2.0, 16.0), st.floats(-3.0, 3.0), st.floats(0.0, 5.0))
def test_root_of_steep_and_flat_curves(root, size, bend):
    def falling(x):
        return 10.0**size * (10.0 ** (root - x) - 10.0 ** (x - root)) + bend * (root - x)

    assert falling_root(falling, -2.0, 16.0, 1e-12) == pytest.approx(root, abs=1e-10)


def test_root_at_a_jump_of_slope():
    assert falling_root(lambda x: -1e6 * x if x > 0.0 else -1e-6 * x, -3.0, 5.0, 1e-12) == pytest.approx(
        0.0, abs=1e-11
    )


def test_known_root_of_the_cosine():
    assert falling_root(math.cos, 0.0, 3.0, 1e-13) == pytest.approx(math.pi / 2.0, abs=1e-12)


def test_nearer_bound_when_the_root_lies_outside():
    assert falling_root(lambda x: -x, 1.0, 2.0, 1e-12) == 1.0
    assert falling_root(lambda x: 3.0 - x, 1.0, 2.0, 1e-12) == 2.0


def test_few_evaluations_on_a_charge_curve():
    calls = []

    def falling(x):
        calls.append(x)
        return 10.0**-x - 10.0 ** (x - 14.0) - 1e-3

    hydrogen = (1e-3 + math.sqrt(1e-6 + 4e-14)) / 2.0  # h - 1e-14 / h = 1e-3
    assert falling_root(falling, -2.0, 16.0, 1e-12) == pytest.approx(-math.log10(hydrogen), abs=1e-11)
    assert len(calls) < 60
