"""Digits, steps and ranges as they stand on a screen; the expectations are worked by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.bounds import bound_text, window_text
from optiform.views.words import numbers


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (2.40709, 2, "2.41"),
        (78.6, 0, "79"),
        (-0.001, 2, "0.00"),
        (-1.5, 1, "-1.5"),
        (None, 2, "-"),
        (math.nan, 2, "-"),
    ],
)
def test_fixed_gives_the_digits_that_were_asked_for(value, digits, text):
    assert numbers.fixed(value, digits) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (81.4, "81.40"),
        (0.6, "0.60"),
        (0.0874, "0.087"),
        (0.0003, "<0.001"),
        (0.0, "0"),
        (0.0996, "0.10"),
        (None, "-"),
    ],
)
def test_percent_never_shows_a_present_amount_as_zero(value, text):
    assert numbers.percent(value) == text


def test_bounds_are_written_as_short_as_they_read_back():
    assert [numbers.short(value) for value in (11.0, 0.3, 4.95, 1e-7)] == ["11", "0.3", "4.95", "0.0000001"]
    assert window_text(8.0, 9.5) == "8 to 9.5"
    assert window_text(3.0, 3.0) == "3"
    assert window_text(None, 2.2) == "at most 2.2"
    assert window_text(None, None) == ""
    assert numbers.span(4.9, 6.0) == "4.90 to 6.00"
    assert numbers.span(4.9001, 4.9002) == "4.90"
    assert numbers.span(None, 6.0) == "-"


@pytest.mark.parametrize(
    ("value", "low", "high", "told"),
    [
        (4.72, 4.59, 4.85, "± 0.13"),  # by hand: 0.13 on either side
        (4.8, 4.6, 5.3, "4.60 to 5.30"),
        (86.46, 74.01, 98.91, "± 13"),  # 12.45, two figures, rounded up
        (0.38, -0.59, 1.35, "± 0.97"),
        (1.24, -18.3, 20.8, "± 20"),
        (5.0, 5.0, 5.0, "5.00 to 5.00"),
    ],
)
def test_an_interval_is_a_half_width_where_its_sides_are_alike(value, low, high, told):
    """Two significant figures at most, rounded up: JCGM 100:2008 (GUM), 7.2.6, memory."""
    assert numbers.give_or_take(value, low, high, 2) == told


@pytest.mark.parametrize(
    ("bound", "step"),
    [(11.0, 1.0), (75.0, 1.0), (2.2, 0.1), (0.4, 0.01), (2500.0, 100.0), (0.0, 0.1), (-11.0, 1.0)],
)
def test_a_step_is_one_that_a_reader_would_take(bound, step):
    assert numbers.step_of(bound) == pytest.approx(step)


def test_an_end_is_rounded_towards_the_bound_so_that_it_still_holds():
    assert numbers.inside(11.78, 11.0) == "11.7"
    assert numbers.inside(78.26, 75.0) == "78.2"
    assert numbers.inside(4.9137, 5.2) == "4.92"
    assert numbers.inside(11.0, 11.0) is None
    assert numbers.inside(11.0001, 11.0) is None
    assert numbers.inside(math.inf, 11.0) is None


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_a_shown_end_never_claims_more_than_holds(end, bound):
    shown = numbers.inside(end, bound)
    if shown is not None:
        low, high = sorted((end, bound))
        assert low - 1e-6 * max(1.0, abs(low)) <= float(shown) <= high + 1e-6 * max(1.0, abs(high))


def test_money_has_no_thousandths():
    assert numbers.money(0.172, "EUR/kg") == "0.17"
    assert numbers.money(-0.0017, "EUR/kg") == "less than 0.01"
    assert numbers.money(1.234, "g per g") == "1.2"
    assert numbers.money(0.01234, "g per g") == "0.012"


def test_an_index_has_no_decimals():
    assert [numbers.money(value, "points") for value in (12.4, 1.5, 0.3, 0.0)] == [
        "12",
        "2",
        "less than 1",
        "0",
    ]
    assert (numbers.digits_of("points"), numbers.digits_of("EUR/kg")) == (0, 3)


def test_a_price_is_cut_to_the_side_that_is_true_and_dust_is_not_cut():
    assert (numbers.floored(3.649, 2), numbers.raised(3.641, 2)) == ("3.64", "3.65")
    assert (numbers.floored(0.9999999999, 2), numbers.raised(1.0000000001, 2)) == ("1.00", "1.00")


def test_a_computed_bound_is_rounded_to_the_side_that_still_holds():
    """Examples by hand; a typed bound stands as it was typed."""
    assert bound_text(4.428541648, "at_least", 2) == "4.43"
    assert bound_text(4.828541648, "at_most", 2) == "4.82"
    assert bound_text(4.628541648, "equal", 2) == "4.63"
    assert bound_text(0.0125, "at_most", 2) == "0.0125"
    assert bound_text(71.345678, "at_least", 0) == "72"
    assert bound_text(4.43 + 1e-12, "at_least", 2) == "4.43"
    assert window_text(4.428541648, 4.828541648) == "4.43 to 4.82"
    assert window_text(4.6275416, 4.6295416) == "4.628 to 4.629"
    assert window_text(None, 4.828541648) == "at most 4.82"


@given(st.floats(0.001, 1000), st.sampled_from(["at_least", "at_most"]), st.integers(0, 3))
def test_whoever_holds_the_written_bound_holds_the_computed_one(bound, side, decimals):
    written = float(bound_text(bound, side, decimals))
    slack = 1e-6 * max(1.0, bound)
    assert written >= bound - slack if side == "at_least" else written <= bound + slack
    assert abs(written - bound) <= 10.0**-decimals


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (11.0, 2, "11.0"), (9.9999, 2, "10.0"), (8.5, 2, "8.50"), (0.3412, 2, "0.34"), (418.2, 0, "418"),
        (4213.0, 0, "4213"), (12345.0, 0, "12340"), (0.0, 2, "0.00"), (0.0042, 2, "0.004"), (None, 1, "-"),
        (0.00001, 2, "<0.001"),
    ],
)  # fmt: skip
def test_a_figure_has_three_figures_or_four_before_the_point(value, digits, text):
    assert numbers.figure(value, digits) == text


@pytest.mark.parametrize(
    ("value", "bound", "text"),
    [
        (10.2, 11.0, "10.2"),
        (10.996, 11.0, "just below 11"),
        (10.98, 11.0, "10.98"),
        (3.3333, 4.0, "3.33"),
        (2.4, None, "2.4"),
    ],
)
def test_a_value_tells_itself_from_the_bound_that_it_misses(value, bound, text):
    assert numbers.apart(value, bound) == text


def test_the_ends_of_what_is_had_ready_are_rounded_away_from_each_other():
    assert (numbers.rounded_out(2.93, up=False), numbers.rounded_out(5.32, up=True)) == ("2.9", "5.4")
    assert (numbers.rounded_out(12.6, up=False), numbers.rounded_out(0.0123, up=True, most=2)) == (
        "12",
        "0.02",
    )
