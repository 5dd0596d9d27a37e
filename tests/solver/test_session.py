"""What a session promises: every change undone, the same answer every time, quiet, honest about why it stopped."""

import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.faults import InternalError
from optiform.program.program import SparseRow
from optiform.solver import Clock, Session
from tests.oracles import INF, assert_optimal, form_of, held_form


def blend_form(integer=()):
    """Return an invented blend of five columns, each at most 60, that adds up to 100."""
    return form_of(
        [3.0, 2.0, 5.0, 1.0, 4.0],
        [
            (dict.fromkeys(range(5), 1.0), 100, 100),
            ({0: 0.3, 1: 0.1, 2: 0.6, 4: 0.5}, 20, INF),
            ({1: 1.0, 3: 1.0}, -INF, 70),
            ({0: 1.0, 2: -2.0}, -INF, 10),
        ],
        upper=[60.0] * 5,
        integer=integer,
    )


def market_split(size=30, seed=1):
    """Return a feasible program whose proof takes long: slack columns soak up what does not add up.

    Cornuejols and Dawande, A class of hard small 0-1 programs (1998), with slacks.
    """
    rng = np.random.default_rng(seed)
    count = 4
    weights = rng.integers(0, 100, size=(count, size)).astype(float)
    rows = []
    for k, line in enumerate(weights):
        content = {**dict(enumerate(line)), size + 2 * k: 1.0, size + 2 * k + 1: -1.0}
        rows.append((content, float(line.sum() // 2), float(line.sum() // 2)))
    costs = [0.0] * size + [1.0] * (2 * count)
    upper = [1.0] * size + [1e4] * (2 * count)
    return form_of(costs, rows, upper=upper, integer=range(size))


EDITS = st.one_of(
    st.tuples(st.just("objective"), st.lists(st.integers(-5, 5), min_size=5, max_size=5)),
    st.tuples(st.just("row bounds"), st.integers(1, 3), st.integers(0, 60)),
    st.tuples(
        st.just("row"),
        st.integers(1, 3),
        st.lists(st.integers(-3, 3), min_size=5, max_size=5),
        st.integers(0, 50),
    ),
    st.tuples(st.just("column bounds"), st.integers(0, 4), st.integers(0, 30), st.integers(30, 60)),
    st.tuples(st.just("release"), st.lists(st.integers(1, 3), max_size=3)),
    st.tuples(st.just("add"), st.lists(st.integers(-3, 3), min_size=5, max_size=5), st.integers(0, 80)),
    st.tuples(st.just("relax")),
    st.tuples(st.just("solve")),
    st.tuples(st.just("nested")),
)


def apply(session, edit):
    kind, *given_ = edit
    if kind == "objective":
        session.set_objective(np.array(given_[0], dtype=float))
    elif kind == "row bounds":
        session.set_row_bounds(given_[0], -INF, float(given_[1]))
    elif kind == "row":
        values = np.array(given_[1], dtype=float)
        present = np.flatnonzero(values)
        session.set_row(given_[0], SparseRow(present, values[present], -INF, float(given_[2])))
    elif kind == "column bounds":
        session.set_column_bounds(given_[0], float(given_[1]), float(given_[2]))
    elif kind == "release":
        session.release(given_[0])
    elif kind == "add":
        values = np.array(given_[0], dtype=float)
        present = np.flatnonzero(values)
        session.add_row(SparseRow(present, values[present], -INF, float(given_[1])))
    elif kind == "relax":
        session.relax()
    elif kind == "solve":
        session.solve()
    elif kind == "nested":
        with session.trial():
            session.set_column_bounds(2, 1.0, 2.0)
            session.add_row(SparseRow(np.array([0]), np.array([1.0]), -INF, 5.0))
            session.solve()


def held(session):
    """Return everything that the solver object itself holds."""
    lp = session._highs.getLp()
    matrix = np.zeros((lp.num_row_, lp.num_col_))
    starts, indices, values = lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_
    by_column = "olwise" in str(lp.a_matrix_.format_)
    for outer in range(len(starts) - 1):
        for k in range(starts[outer], starts[outer + 1]):
            where = (indices[k], outer) if by_column else (outer, indices[k])
            matrix[where] += values[k]
    return (
        matrix.tolist(),
        list(lp.col_cost_),
        list(lp.col_lower_),
        list(lp.col_upper_),
        list(lp.row_lower_),
        list(lp.row_upper_),
        [str(kind) for kind in lp.integrality_],
    )


@settings(max_examples=60, deadline=None)
@given(edits=st.lists(EDITS, max_size=8), whole=st.booleans())
def test_a_trial_leaves_nothing_behind(edits, whole):
    """Whatever is changed inside a trial, the solver then holds what it held, and finds what it found."""
    session = Session(blend_form(integer=[0, 3] if whole else []))
    before, first = held(session), session.solve()
    with session.trial():
        for edit in edits:
            apply(session, edit)
    assert held(session) == before
    again = session.solve()
    assert again.status == first.status == "solved"
    assert again.objective == pytest.approx(first.objective, abs=1e-9)
    if not whole:
        assert_optimal(session.form, again)


@settings(max_examples=60, deadline=None)
@given(edits=st.lists(EDITS, max_size=8), whole=st.booleans(), arrays=st.booleans())
def test_a_changed_session_is_solved_like_a_fresh_one(edits, whole, arrays):
    """What a changed session holds, in a session of its own, is the same program, stated or handed over as arrays."""
    session = Session(blend_form(integer=[0, 3] if whole else []))
    with session.trial():
        for edit in edits:
            apply(session, edit)
        elsewhere = Session(held_form(session), arrays=arrays)
        found, again = session.solve(), elsewhere.solve()
        assert again.status == found.status
        if found.found:
            assert again.objective == pytest.approx(found.objective, abs=1e-7)


def test_a_trial_is_undone_after_an_error():
    session = Session(blend_form())
    before = held(session)
    with pytest.raises(RuntimeError, match="mine"), session.trial():
        session.set_column_bounds(0, 5.0, 6.0)
        session.relax()
        raise RuntimeError("mine")
    assert held(session) == before


def test_a_row_is_changed_in_place_and_back_after_several_changes():
    session = Session(blend_form())
    first = session.solve().objective
    with session.trial():
        session.set_row(1, SparseRow(np.array([2]), np.array([1.0]), 30.0, INF))
        assert session.solve().values[2] == pytest.approx(30.0)
        with session.trial():
            session.set_row(1, SparseRow(np.array([2, 3]), np.array([1.0, 1.0]), 80.0, INF))
            values = session.solve().values
            assert values[2] + values[3] >= 80.0 - 1e-9
        assert session.solve().values[2] == pytest.approx(30.0)
    assert session.solve().objective == pytest.approx(first, abs=1e-12)


@pytest.mark.parametrize("integer", [(), (0, 1, 2, 3, 4)])
def test_three_runs_are_identical_to_the_last_digit(integer):
    outcomes = [Session(blend_form(integer)).solve() for _ in range(3)]
    assert len({outcome.values.tobytes() for outcome in outcomes}) == 1
    assert len({outcome.objective for outcome in outcomes}) == 1


def test_relaxing_gives_a_bound_and_prices():
    form = form_of([-1.0, -1.0], [({0: 2.0, 1: 2.0}, -INF, 3)], upper=[1, 1], integer=[0, 1])
    session = Session(form)
    whole = session.solve()
    assert whole.objective == pytest.approx(-1)
    assert whole.row_dual is None
    with session.trial():
        session.relax()
        relaxed = session.solve()
        assert relaxed.objective == pytest.approx(-1.5)
        assert relaxed.row_dual is not None
    assert session.solve().objective == pytest.approx(-1)


@pytest.mark.parametrize("integer", [(), (0, 1)])
def test_infeasible_is_an_answer(integer):
    form = form_of([1, 1], [({0: 1.0, 1: 1.0}, 5, INF)], upper=[2, 2], integer=integer)
    session = Session(form)
    outcome = session.solve()
    assert outcome.status == "infeasible"
    assert not outcome.found
    with session.trial():
        session.set_row_bounds(0, 3.0, INF)
        assert session.solve().status == "solved"
    assert session.solve().status == "infeasible"


def test_unbounded_is_never_called_infeasible():
    session = Session(form_of([-1.0], [({0: 1.0}, 1, INF)]))
    with pytest.raises(InternalError):
        session.solve()


def test_a_row_with_two_bounds_is_refused():
    with pytest.raises(ValueError, match="two bounds"):
        Session(form_of([1.0], [({0: 1.0}, 1, 2)], upper=[5]))


def test_a_deadline_in_the_past_stops_at_once():
    outcome = Session(blend_form(), clock=Clock.of(-1.0)).solve()
    assert outcome.status == "stopped"
    assert not outcome.found


def test_a_deadline_stops_a_long_search_with_the_best_so_far():
    form = market_split()
    for seconds in (1.0, 5.0, 25.0, 125.0):  # more only where a busy machine finds nothing in less
        session = Session(form, clock=Clock.of(seconds))
        outcome = session.solve()
        if outcome.found:
            break
    assert outcome.status == "stopped"
    assert outcome.found
    assert outcome.bound <= outcome.objective
    x = outcome.values
    assert np.all(np.abs(form.activity(x) - form.row_lower) < 1e-6)
    assert session.solve().status == "stopped", "the deadline is a moment, not an allowance per solve"


@pytest.mark.parametrize(("whole", "limit"), [([0, 1, 2], 5.0), ([], 105.0)])
def test_the_solver_is_given_the_time_left_as_it_counts_it(whole, limit, monkeypatch):
    """From this run for an integer program, from the first run of the solver for a continuous one (measured)."""
    monkeypatch.setattr(time, "monotonic", lambda: 40.0)
    session = Session(blend_form(integer=whole), clock=Clock.of(5.0))
    given = {}

    class Worked:
        def getRunTime(self):
            return 100.0

        def setOptionValue(self, name, value):
            given[name] = value

    session._highs = Worked()
    session._limit_time(bool(whole))
    assert given == {"time_limit": limit}


def test_the_clock_of_one_deadline_runs_over_several_solves():
    """Many short solves before the deadline all finish; the time limit counts from now, not from the first solve."""
    session = Session(blend_form(integer=[0, 1, 2]), clock=Clock.of(60.0))
    assert all(session.solve().status == "solved" for _ in range(30))


def signalled(session: Session, callback: int = 50) -> Session:
    """Send this process a Ctrl-C at the 50th callback of the solver: a moment of the search, not of a clock."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    usual, callbacks = session._stop_check.enough, [0]

    def enough() -> bool:
        callbacks[0] += 1
        if callbacks[0] == callback:
            os.kill(os.getpid(), signal.SIGINT)
        return usual()

    session._stop_check.enough = enough
    return session


def test_an_interrupt_stops_a_long_search_with_the_best_so_far():
    """Ctrl-C while the search runs, in a process of its own."""
    code = """
from optiform.solver import Session
from optiform.stopping import interrupted, polite
from tests.solver.test_session import market_split, signalled
session = signalled(Session(market_split()))
with polite():
    outcome = session.solve()
print(outcome.status, outcome.found, interrupted(), session.stopped_by_user)
"""
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.stdout.split() == ["stopped", "True", "True", "True"], ran.stderr


def test_a_signal_that_nobody_turned_polite_ends_a_solve_with_an_exception_and_not_inside_the_solver():
    """The solver asks Python things while it branches: what is raised there would go through its own code."""
    code = """
from optiform.solver import Session
from tests.solver.test_session import market_split, signalled
session = signalled(Session(market_split()))
try:
    session.solve()
except KeyboardInterrupt:
    session.set_objective(0.0 * session.form.objective)
    print(session.stopped_by_user, session.solve().status)
"""
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.stdout.split() == ["True", "solved"], ran.stderr


def test_nothing_reaches_stdout(capfd):
    session = Session(blend_form(integer=[0, 1]))
    session.solve()
    with session.trial():
        session.relax()
        session.set_row_bounds(1, 1000.0, INF)
        session.solve()
    out, err = capfd.readouterr()
    assert out == ""
    assert err == ""


def test_equal_columns_keep_their_order():
    """Names in PuLP are opaque and padded, so that more than ten columns keep their places in every PuLP."""
    costs = [float((i * 7) % 13) for i in range(1, 13)]
    form = form_of(costs, [(dict.fromkeys(range(12), 1.0), 1, 1)], upper=[1.0] * 12)
    values = Session(form).solve().values
    assert int(np.argmax(values)) == int(np.argmin(costs))


def test_a_column_in_no_row_keeps_its_place():
    """PuLP leaves out a column that neither a row nor the objective names, which would shift the rest."""
    form = form_of([3.0, 0.0, 2.0], [({0: 1.0, 2: 1.0}, 1, 1)], lower=[0, 0.5, 0], upper=[1, 0.5, 1])
    assert Session(form).solve().values == pytest.approx([0.0, 0.5, 1.0])


def test_a_negative_aim_has_its_own_sign():
    """Everything is minimised; what is maximised comes negated, and its prices with it."""
    form = form_of([-2.0, -1.0], [({0: 1.0, 1: 1.0}, -INF, 10)], upper=[4, 100])
    outcome = Session(form).solve()
    assert outcome.objective == pytest.approx(-14)
    assert outcome.row_dual[0] == pytest.approx(-1)
    assert outcome.reduced_cost[0] == pytest.approx(-1)
    assert_optimal(form, outcome)


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_any_small_program_ends_in_a_proven_optimum_or_a_plain_no(data):
    """Random programs: optimal ones hold the conditions of an optimum."""
    n, m = data.draw(st.integers(1, 5)), data.draw(st.integers(1, 5))
    number = st.integers(-6, 6).map(float)
    costs = data.draw(st.lists(number, min_size=n, max_size=n))
    rows = [(dict.fromkeys(range(n), 1.0), -INF, 8.0 * n)]
    for _ in range(m):
        content = {i: v for i, v in enumerate(data.draw(st.lists(number, min_size=n, max_size=n))) if v}
        content = content or {0: 1.0}
        bound = data.draw(number)
        low, high = data.draw(st.sampled_from([(bound, INF), (-INF, bound), (bound, bound)]))
        rows.append((content, low, high))
    form = form_of(costs, rows, upper=[10.0] * n)
    outcome = Session(form).solve()
    assert outcome.status in ("solved", "infeasible")
    if outcome.status == "solved":
        assert_optimal(form, outcome)
