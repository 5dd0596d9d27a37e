"""The session against published linear programs, every solve held against the conditions of an optimum."""

import numpy as np
import pytest

from optiform.solver import Session
from tests.oracles import INF, assert_optimal, form_of
from tests.solver.published import netlib, stigler


def wyndor():
    """Hillier and Lieberman, Introduction to Operations Research, chapter 3, as a minimisation."""
    return form_of([-3, -5], [({0: 1.0}, -INF, 4), ({1: 2.0}, -INF, 12), ({0: 3.0, 1: 2.0}, -INF, 18)])


def test_wyndor_value_solution_and_duals():
    """Hillier and Lieberman, chapters 3 and 4: Z = 36 at (2, 6), shadow prices 0, 1.5, 1."""
    outcome = Session(wyndor()).solve()
    assert outcome.objective == pytest.approx(-36, abs=1e-9)
    np.testing.assert_allclose(outcome.values, [2, 6], atol=1e-9)
    np.testing.assert_allclose(outcome.row_dual, [0, -1.5, -1], atol=1e-9)
    assert_optimal(wyndor(), outcome)


@pytest.mark.parametrize(
    ("row", "price", "low", "high"), [(0, 0.0, 2.0, 40.0), (1, 1.5, 6.0, 18.0), (2, 1.0, 12.0, 24.0)]
)
def test_wyndor_right_hand_side_ranges(row, price, low, high):
    """Hillier and Lieberman, chapter 7: b1 in [2, inf), b2 in [6, 18], b3 in [12, 24]."""
    form = wyndor()
    session = Session(form)
    here = form.row_upper[row]
    for bound in np.linspace(low, high, 9):
        with session.trial():
            session.set_row_bounds(row, -INF, bound)
            assert session.solve().objective == pytest.approx(-36 - price * (bound - here), abs=1e-9)
    beyond = [low - 1.0] if row == 0 else [low - 1.0, high + 1.0]
    for bound in beyond:
        with session.trial():
            session.set_row_bounds(row, -INF, bound)
            assert session.solve().objective > -36 - price * (bound - here) + 1e-3


@pytest.mark.parametrize(("cost", "holds"), [(0.0, True), (7.5, True), (7.6, False), (-0.1, False)])
def test_wyndor_objective_range(cost, holds):
    """Hillier and Lieberman, chapter 7: the optimum (2, 6) stays for c1 in [0, 7.5]."""
    session = Session(wyndor())
    with session.trial():
        session.set_objective(np.array([-cost, -5.0]))
        best = session.solve().objective
    at_corner = -(cost * 2 + 30)
    assert (best == pytest.approx(at_corner, abs=1e-9)) is holds


def test_stigler_diet():
    """Stigler, J. Farm Econ. 27 (1945) 303-314; the five foods and 39.69 $ a year (365.25 days) are the known optimum.

    The digits of the daily cost and of the prices were computed from the same table (77 foods).
    """
    form, foods = stigler()
    assert (form.columns, form.rows) == (77, 9)
    outcome = Session(form).solve()
    assert_optimal(form, outcome)
    assert outcome.objective == pytest.approx(0.10866227820675685, abs=1e-8)
    assert round(365.25 * outcome.objective, 2) == 39.69
    assert round(365 * outcome.objective, 2) == 39.66
    bought = {food: spent for food, spent in zip(foods, outcome.values, strict=True) if spent > 1e-9}
    assert bought == {
        "wheat flour": pytest.approx(0.0295190617, abs=1e-6),
        "beef liver": pytest.approx(0.0018925573, abs=1e-6),
        "cabbage": pytest.approx(0.0112144352, abs=1e-6),
        "spinach": pytest.approx(0.0050076605, abs=1e-6),
        "dried navy beans": pytest.approx(0.0610285635, abs=1e-6),
    }
    prices = [0.00876515, 0, 0.03173771, 0, 0.00040023, 0, 0.01635803, 0, 0.00014412]
    np.testing.assert_allclose(outcome.row_dual, prices, atol=1e-6)


@pytest.mark.parametrize(
    ("name", "objective", "equalities", "shape", "value"),
    [
        ("blend", "C", "43", (74, 83), -3.0812149846e01),
        ("afiro", "COST", "R", (27, 32), -4.6475314286e02),
    ],
)
def test_netlib(name, objective, equalities, shape, value):
    """Netlib lp/data (D. M. Gay): sizes and optimal values as its readme lists them."""
    form = netlib(name, objective, equalities)
    assert (form.rows, form.columns) == shape
    outcome = Session(form).solve()
    assert outcome.objective == pytest.approx(value, rel=1e-8)
    assert_optimal(form, outcome)


def test_williams_oil_blend():
    """H. P. Williams, Model Building in Mathematical Programming, section 1.2: profit 17 592.59.

    Columns VEG1, VEG2, OIL1, OIL2, OIL3, product; duals computed from the same data.
    """
    hardness = [8.8, 6.1, 2.0, 4.2, 5.0]
    form = form_of(
        [110, 120, 130, 110, 115, -150],
        [
            ({0: 1.0, 1: 1.0}, -INF, 200),
            ({2: 1.0, 3: 1.0, 4: 1.0}, -INF, 250),
            ({**dict(enumerate(hardness)), 5: -6.0}, -INF, 0),
            ({**dict(enumerate(hardness)), 5: -3.0}, 0, INF),
            ({0: 1.0, 1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0, 5: -1.0}, 0, 0),
        ],
    )
    outcome = Session(form).solve()
    assert_optimal(form, outcome)
    assert outcome.objective == pytest.approx(-17592.592592592593, abs=1e-6)
    np.testing.assert_allclose(outcome.values, [159.259259, 40.740741, 0, 250, 0, 450], atol=1e-5)
    np.testing.assert_allclose(-outcome.row_dual[:3], [29.6296, 46.6667, 3.7037], atol=1e-4)
    np.testing.assert_allclose(outcome.reduced_cost[[2, 4]], [11.8519, 7.9630], atol=1e-4)


CAT_FOOD = {
    # cost per g, protein, fat, fibre, salt: chicken, beef, mutton, rice, wheat bran, gel
    "cost": [0.013, 0.008, 0.010, 0.002, 0.005, 0.001],
    "protein": [0.1, 0.2, 0.15, 0.0, 0.04, 0.0],
    "fat": [0.08, 0.1, 0.11, 0.01, 0.01, 0.0],
    "fibre": [0.001, 0.005, 0.003, 0.1, 0.15, 0.0],
    "salt": [0.002, 0.005, 0.007, 0.002, 0.008, 0.0],
}


@pytest.mark.parametrize(
    ("foods", "cost", "grams"),
    [(range(6), 0.52, {1: 60.0, 5: 40.0}), (range(2), 0.9666666667, {0: 33.3333333, 1: 66.6666667})],
)
def test_cat_food_blend(foods, cost, grams):
    """The blending case study in the PuLP documentation: 0.52 (60 % beef, 40 % gel), and 0.97 from two meats."""
    limits = {"protein": (8, INF), "fat": (6, INF), "fibre": (-INF, 2), "salt": (-INF, 0.4)}
    rows = [({i: CAT_FOOD[name][i] for i in foods}, low, high) for name, (low, high) in limits.items()]
    form = form_of([CAT_FOOD["cost"][i] for i in foods], [(dict.fromkeys(foods, 1.0), 100, 100), *rows])
    outcome = Session(form).solve()
    assert_optimal(form, outcome)
    assert outcome.objective == pytest.approx(cost, abs=1e-6)
    expected = [grams.get(i, 0.0) for i in foods]
    np.testing.assert_allclose(outcome.values, expected, atol=1e-6)
