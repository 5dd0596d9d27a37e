"""Squares held as they are: the best of all against brute force, on a rising and on a falling branch."""

from dataclasses import replace

import numpy as np
import pytest

from optiform.program import Norm, Square
from optiform.solver import Clock, Session
from tests.oracles import INF, form_of
from tests.program.blends import SALT, best_of_supports, random_hump

KINDS = {
    "at least": {"sure": False, "only_least": True},
    "between": {"sure": False},
    "between, sure": {"sure": True},
}


def parabola(lower, upper, objective=(1.0, 0.0)):
    """Return a form in salt x from 0 to 3 with lower <= 2 x - x^2 <= upper."""
    rows = [({0: 2.0, 1: -1.0}, lower, INF), ({0: 2.0, 1: -1.0}, -INF, upper)]
    form = form_of([*objective], rows, upper=[3.0, 9.0])
    return replace(form, norms=(Square(1, np.array([0]), np.ones((1, 1))),))


def check(kind, seed):
    """Compare with the oracle: at a peak a row off by 1e-8 moves salt by its root, so that we may lie below."""
    hump = random_hump(seed, **KINDS[kind])
    outcome, oracle = Session(hump.form).solve(), best_of_supports(hump)
    if oracle is None:
        assert outcome.status == "infeasible"
        return
    assert outcome.status == "solved"
    assert oracle - 1e-5 <= outcome.objective <= oracle + 1e-6
    assert outcome.bound == pytest.approx(outcome.objective, abs=1e-8)
    assert hump.missing(outcome.values) <= 1e-7


@pytest.mark.parametrize(("kind", "seed"), [("between", 1)])
def test_random_blends_equal_brute_force(kind, seed):
    """Oracle: SLSQP on every support from ten starts (scipy)."""
    check(kind, seed)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(60))
def test_more_random_blends(kind, seed):
    check(kind, seed)


@pytest.mark.parametrize(
    ("lower", "upper", "objective", "salt"),
    [
        (0.75, INF, (1.0, 0.0), 0.5),
        (0.75, INF, (-1.0, 0.0), 1.5),
        (0.19, 0.75, (-1.0, 0.0), 1.9),
        (-INF, 0.75, (-1.0, 0.0), 3.0),
        (0.0, 0.75, (-1.0, 0.0), 2.0),
    ],
)
def test_one_salt_by_hand(lower, upper, objective, salt):
    """2 x - x^2 = b at x = 1 -+ sqrt(1 - b): the rising and the falling branch."""
    outcome = Session(parabola(lower, upper, objective)).solve()
    assert outcome.values[0] == pytest.approx(salt, abs=1e-6)
    assert outcome.values[1] == pytest.approx(salt**2, abs=1e-6)


def test_a_square_in_the_objective():
    """Least and most of x^2 - 2 x on 0 to 3: -1 at 1, and 3 at 3."""
    for sign, salt in ((1.0, 1.0), (-1.0, 3.0)):
        outcome = Session(parabola(-INF, INF, (-2.0 * sign, sign))).solve()
        assert outcome.values[0] == pytest.approx(salt, abs=1e-3)
        assert outcome.objective == pytest.approx(sign * (salt**2 - 2.0 * salt), abs=1e-6)


def test_above_the_peak_there_is_nothing():
    assert Session(parabola(1.0 + 1e-6, INF)).solve().status == "infeasible"


def test_every_solve_of_a_session_holds_its_square():
    """Cuts of one solve stay, the halved ranges do not: another bound gives what a fresh session gives."""
    session = Session(parabola(0.0, 0.75, (-1.0, 0.0)))
    assert session.solve().values[0] == pytest.approx(2.0, abs=1e-6)
    with session.trial():
        session.set_row_bounds(0, 0.51, INF)
        assert session.solve().values[0] == pytest.approx(1.7, abs=1e-6)
    assert session.solve().values[0] == pytest.approx(2.0, abs=1e-6)


def test_time_that_is_over_stops_it():
    assert Session(parabola(0.0, 0.75, (-1.0, 0.0)), clock=Clock.of(0.0)).solve().status == "stopped"


class Patience:
    """Whoever waits gives up after being asked so many times."""

    def __init__(self, times):
        self.times = times

    def __call__(self):
        self.times -= 1
        return self.times < 0


def test_time_that_is_over_leaves_the_best_so_far_and_a_bound():
    """Stopped ever later, from soon on a solution that holds its square is at hand, and never a worse one."""
    hump = random_hump(1, sure=False)
    best, found = Session(hump.form).solve(), []
    for times in (0, 4, 16, 24, 36, 44, 56):
        outcome = Session(hump.form, clock=Clock(deadline=np.inf, given_up=Patience(times))).solve()
        assert outcome.status == "stopped" and outcome.bound <= best.objective + 1e-7
        found.append(outcome.objective)
        if outcome.values is not None:
            assert hump.missing(outcome.values) <= 1e-7
            assert outcome.objective >= best.objective - 1e-5
    assert np.isfinite(found).tolist() == [False] * 2 + [True] * 5
    assert found == sorted(found, reverse=True)


def test_some_of_the_sample_lie_past_the_peak_or_are_held_from_above():
    """Or the comparison would show nothing that tangent cuts do not."""
    kinds = {"above": 0, "falling": 0}
    for seed in (1, 5, 8):
        hump = random_hump(seed, sure=False)
        outcome = Session(hump.form).solve()
        if outcome.values is not None:
            x = outcome.values[: len(hump.cost)]
            kinds["above"] += hump.middle(x) > hump.limits[1] - 1e-6
            kinds["falling"] += float(hump.salty @ x) > hump.mean[SALT] / (2.0 * hump.bend)
    assert kinds["above"] >= 1
    assert kinds["falling"] >= 1


def test_a_square_says_what_a_norm_says_twice():
    square, norm = Square(2, np.array([0, 1]), np.ones((1, 2))), Norm(2, np.array([0, 1]), np.ones((1, 2)))
    there = np.array([1.0, 2.0, 0.0])
    assert square.value(there) == norm.value(there) ** 2 == 9.0
    cut = square.cut(there)
    for s in (0.0, 1.0, 3.0, 5.0):
        assert cut.values @ np.array([s, 0.0, s**2])[cut.indices] >= cut.lower - 1e-12
