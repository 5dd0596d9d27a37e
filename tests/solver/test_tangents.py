"""Rows that count on a norm: solved exactly by tangent cuts, whatever else a session changes."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from optiform.program import Norm, SparseRow
from optiform.solver import Session
from tests.oracles import INF, form_of
from tests.program.blends import best_of_supports, random_blend


def hand_form(*, cost=1.0):
    """Return one active material x in water: mean .5 x, spread of its coefficient .05, of a reading .3, k 2.

    Hand calculation: .5 x - 2 sqrt(.09 + .0025 x^2) >= 2 with x + water = 100, so that the 1 is (x + water) / 100.
    """
    form = form_of(
        [cost, 0.0, 0.0],
        [({0: 1.0, 1: 1.0}, 100, 100), ({0: 0.5, 2: -2.0}, 2, INF)],
    )
    factor = np.array([[0.05, 0.0], [0.003, 0.003]])
    return with_norm(form, Norm(2, np.array([0, 1]), factor))


def with_norm(form, *norms):
    return replace(form, norms=norms)


def test_one_material_by_hand():
    """(.5 x - 2)^2 = 4 (.09 + .0025 x^2), so .24 x^2 - 2 x + 3.64 = 0 and x = (2 + sqrt(4 - 3.4944)) / .48."""
    by_hand = (2.0 + np.sqrt(4.0 - 4.0 * 0.24 * 3.64)) / 0.48
    assert by_hand == pytest.approx(5.6480324, abs=5e-8)
    outcome = Session(hand_form()).solve()
    assert outcome.status == "solved"
    assert outcome.values[0] == pytest.approx(by_hand, abs=1e-6)
    assert outcome.values[2] == pytest.approx(np.hypot(0.05 * by_hand, 0.3), abs=1e-9)


def test_price_of_the_limit_is_the_last_cut():
    """dx/dL = 1 / (.5 - 2 * .0025 x / sqrt(.09 + .0025 x^2)), by the implicit function of the hand calculation."""
    outcome = Session(hand_form()).solve()
    x = outcome.values[0]
    by_hand = 1.0 / (0.5 - 2.0 * 0.0025 * x / np.sqrt(0.09 + 0.0025 * x * x))
    assert len(outcome.row_dual) == 2
    assert outcome.row_dual[1] == pytest.approx(by_hand, rel=1e-4)


def test_cuts_stay_true_when_the_limit_moves():
    session = Session(hand_form())
    session.solve()
    for limit in (1.0, 3.0, 2.5, 8.0):
        with session.trial():
            session.set_row_bounds(1, limit, INF)
            x = session.solve().values[0]
        assert 0.5 * x - 2.0 * np.hypot(0.05 * x, 0.3) == pytest.approx(limit, abs=1e-7)


def test_upper_limit_holds_with_the_margin_added():
    """The most of x with .5 x + 2 sqrt(.09 + .0025 x^2) <= 2 is the other root of .24 x^2 - 2 x + 3.64 = 0."""
    session = Session(hand_form(cost=-1.0))
    session.set_row(1, SparseRow(np.array([0, 2]), np.array([0.5, 2.0]), -INF, 2.0))
    by_hand = (2.0 - np.sqrt(4.0 - 4.0 * 0.24 * 3.64)) / 0.48
    assert session.solve().values[0] == pytest.approx(by_hand, abs=1e-6)


def test_a_margin_that_no_formula_has_is_refused():
    """.5 x - 2 * .25 x - ... can never reach 2: the spread of the coefficient takes all that the mean brings."""
    form = with_norm(hand_form(), Norm(2, np.array([0, 1]), np.array([[0.25, 0.0], [0.003, 0.003]])))
    assert Session(form).solve().status == "infeasible"


def test_trials_take_their_rows_away_and_leave_the_cuts():
    session, fresh = Session(hand_form()), Session(hand_form()).solve().values
    with session.trial():
        session.add_row(SparseRow(np.array([0]), np.array([1.0]), 10.0, INF))
        session.add_row(SparseRow(np.array([2]), np.array([1.0]), -INF, 0.7))
        assert session.solve().values[0] == pytest.approx(10.0)
        session.add_row(SparseRow(np.array([0]), np.array([1.0]), 12.0, INF))
        most = np.sqrt(0.7**2 - 0.09) / 0.05
        assert most == pytest.approx(12.649, abs=1e-3)
        session.set_objective(np.array([-1.0, 0.0, 0.0]))
        assert session.solve().values[0] == pytest.approx(most, abs=1e-5)
    again = session.solve()
    assert again.values == pytest.approx(fresh, abs=1e-6)
    assert len(again.row_dual) == 2


def test_norm_as_the_objective():
    """The least spread of x + water with at least 4 of x is at 4: sqrt(.04 + .09)."""
    session = Session(hand_form())
    session.set_row(1, SparseRow(np.array([0]), np.array([1.0]), 4.0, INF))
    session.set_objective(np.array([0.0, 0.0, 1.0]))
    assert session.solve().objective == pytest.approx(np.sqrt(0.13), abs=1e-7)


class Counting(Session):
    """A session that counts its integer programs: each is a round of the outer approximation."""

    integer_solves = 0

    def _run(self):
        self.integer_solves += bool(self._whole.any())
        super()._run()


def check(seed):
    blend = random_blend(seed)
    session = Counting(blend.form)
    outcome = session.solve()
    oracle = best_of_supports(blend)
    if oracle is None:
        assert outcome.status == "infeasible"
        return
    assert outcome.status == "solved"
    assert outcome.objective == pytest.approx(oracle, abs=1e-6)
    assert blend.missing(outcome.values) <= 1e-7
    assert session.integer_solves <= 8


@pytest.mark.parametrize("seed", [*range(10), 14, 78])
def test_random_blends_equal_a_conic_optimum_over_every_support(seed):
    """The last two have so many cuts that some are dropped: while structures are compared that must not happen."""
    check(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", sorted({*range(10, 100)} - {14, 78}))
def test_more_random_blends(seed):
    check(seed)


def test_random_blends_are_bound_by_their_margins():
    """Most of the sample would be cheaper without the margin, or the comparison would show nothing."""
    dearer = 0
    for seed in range(12):
        blend = random_blend(seed)
        with_margin, without = Session(blend.form).solve(), Session(with_norm(blend.form)).solve()
        dearer += with_margin.objective > without.objective + 1e-3
    assert dearer >= 9


def test_cuts_hold_for_every_blend():
    """Cauchy and Schwarz: no blend lies beyond a tangent, touched anywhere."""
    rng = np.random.default_rng(3)
    norm = Norm(4, np.arange(4), rng.normal(size=(3, 4)))
    for first, second in itertools.pairwise(rng.dirichlet(np.ones(4), size=40) * 100.0):
        cut = norm.cut(np.append(first, 0.0))
        assert cut.values @ np.append(first, norm.value(first))[cut.indices] == pytest.approx(0.0, abs=1e-9)
        assert cut.values @ np.append(second, norm.value(second))[cut.indices] >= -1e-9


@pytest.mark.parametrize("part, status", [(1.0 + 1e-6, "solved"), (1.0 - 1e-5, "infeasible")])
def test_a_norm_that_can_just_be_held_is_told_from_one_that_cannot(part, status):
    """The least sqrt(x'Sx) of parts that add up to 1 is 1/sqrt(1'S^-1 1), by Lagrange; here with every part above 0."""
    size = 8
    factor = np.eye(size) + np.random.default_rng(3).uniform(0.0, 0.1, (size, size))
    whole = np.linalg.solve(factor.T @ factor, np.ones(size))
    least = 1.0 / np.sqrt(whole.sum())
    assert (whole > 0.0).all()
    rows = [(dict.fromkeys(range(size), 1.0), 1.0, 1.0), ({size: 1.0}, -INF, part * least)]
    form = form_of([0.0] * (size + 1), rows, upper=[1.0] * size + [INF])
    session = Session(with_norm(form, Norm(size, np.arange(size), factor)))
    assert session.solve().status == status
    assert session.solves < 150
