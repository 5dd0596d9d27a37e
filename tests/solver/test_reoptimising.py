"""Integer programs searched from the leaves of earlier searches: the best of all against every choice tried.

Oracle: all choices enumerated, what is left of the program solved by scipy's linprog, which knows nothing of leaves.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from optiform.program import SparseRow
from optiform.solver import NO_LIMIT, Clock, Memory, Reoptimising, Within
from optiform.solver.leaves import WeakDuality
from tests.oracles import INF, form_of

CHOICES, AMOUNTS = 5, 3


def random_form(draw, choices=CHOICES):
    """Return a small program: amounts that a choice opens and prices, a total, and a count of choices."""
    amounts = min(AMOUNTS, choices)
    cost = [*draw.uniform(0.5, 2.0, amounts), *draw.uniform(0.1, 1.0, choices)]
    rows = [({k: 1.0, amounts + k: -3.0}, -INF, 0.0) for k in range(amounts)]
    rows += [({k: 1.0, amounts + k: -0.5}, 0.0, INF) for k in range(amounts)]
    rows += [({k: float(draw.uniform(0.5, 1.5)) for k in range(amounts)}, float(draw.uniform(1.0, 9.0)), INF)]
    rows += [
        ({amounts + k: float(draw.integers(1, 4)) for k in range(choices)}, -INF, float(draw.integers(3, 9)))
    ]
    return form_of(
        cost,
        rows,
        upper=[3.0] * amounts + [1.0] * choices,
        integer=range(amounts, amounts + choices),
    )


def moved(form, draw):
    """Return the program with other bounds and other weights in its total, as after a small move."""
    values, lower = form.values.copy(), form.row_lower.copy()
    values[form.owner == form.rows - 2] *= draw.uniform(0.97, 1.03, np.sum(form.owner == form.rows - 2))
    lower[-2] *= draw.uniform(0.9, 1.1)
    return replace(form, values=values, row_lower=lower)


def everything(form):
    """Return the least of the objective over all choices; None where nothing meets the rows."""
    matrix = np.zeros((form.rows, form.columns))
    matrix[form.owner, form.indices] = form.values
    up, low = np.isfinite(form.row_upper), np.isfinite(form.row_lower)
    rows = np.vstack([matrix[up], -matrix[low]])
    sides = np.concatenate([form.row_upper[up], -form.row_lower[low]])
    whole = np.flatnonzero(form.integer)
    best = None
    for taken in itertools.product((0.0, 1.0), repeat=len(whole)):
        ends = np.column_stack([form.lower, form.upper])
        ends[whole] = np.column_stack([taken, taken])
        found = linprog(form.objective, A_ub=rows, b_ub=sides, bounds=ends)
        if found.status == 0 and (best is None or found.fun < best):
            best = float(found.fun)
    return best


def session(form, memory, names=None, clock=NO_LIMIT):
    """Return a session on a whole program, its rows named by their numbers."""
    names = tuple(range(form.rows)) if names is None else names
    place = Within(np.arange(form.columns), np.arange(form.rows), form.columns, names)
    return Reoptimising(form, place, memory, clock)


def held_to(outcome, least):
    """Hold an outcome against the oracle."""
    assert outcome.status == ("infeasible" if least is None else "solved")
    if least is not None:
        assert outcome.objective == pytest.approx(least, abs=1e-7)


@pytest.mark.parametrize("seed", range(3))
def test_the_best_after_each_of_several_moves_equals_every_choice_tried(seed):
    draw = np.random.default_rng(seed)
    form, memory = random_form(draw), Memory()
    for _ in range(3):
        held_to(session(form, memory).searched(), everything(form))
        form, memory = moved(form, draw), memory.again()


def test_leaves_of_any_other_program_are_a_place_to_begin():
    """Rows in another order, columns that mean something else, fewer choices: slower perhaps, never wrong."""
    draw = np.random.default_rng(7)
    memory = Memory()
    for choices in (5, 4, 5):
        form = random_form(draw, choices)
        shuffled = tuple(draw.permutation(form.rows).tolist())
        held_to(session(form, memory, shuffled).searched(), everything(form))
        memory = memory.again()


def test_leaves_that_were_branched_on_what_is_no_choice_here_are_not_used():
    """By hand: column 4 was a choice, and is an amount from 0 to 3 now; the cheapest total of 1 takes 0.5 of it."""
    draw = np.random.default_rng(3)
    memory = Memory()
    session(random_form(draw), memory).searched()
    cost = [9.0] * 4 + [1.0, 1.0]
    rows = [({4: 2.0}, 1.0, INF), ({5: 1.0}, 1.0, INF)]
    form = form_of(cost, rows, upper=[3.0] * 5 + [1.0], integer=[5])
    assert session(form, memory.again()).searched().objective == pytest.approx(1.5)


def test_what_closed_a_leaf_closes_it_again():
    """The same program asked again: its best leaf is solved once more, no other one."""
    draw = np.random.default_rng(1)
    form, memory = random_form(draw), Memory()
    first = session(form, memory)
    best = first.searched()
    again = session(form, memory.again())
    assert again.searched().objective == pytest.approx(best.objective, abs=1e-12)
    assert first.solves > again.solves
    assert again.solves <= 2  # its relaxation, and its choices held
    refused = session(form, memory.again())
    assert refused.below(best.objective - 1e-6).status == "infeasible"
    assert refused.solves == 0


def test_an_empty_box_stays_closed_by_its_ray():
    """By hand: three of two choices cannot be taken; after a move that keeps it so, nothing is solved at all."""
    rows = [({0: 1.0, 1: 1.0}, 3.0, INF)]
    form = form_of([1.0, 1.0], rows, upper=[1.0, 1.0], integer=[0, 1])
    memory = Memory()
    assert session(form, memory).below(9.0).status == "infeasible"
    less = replace(form, row_lower=np.array([2.5]))
    later = session(less, memory.again())
    assert later.below(9.0).status == "infeasible"
    assert later.solves == 0
    met = session(replace(form, row_lower=np.array([2.0])), memory.again())
    assert met.searched().objective == pytest.approx(2.0)


def test_rows_that_are_added_for_a_while_count_and_are_forgotten():
    """By hand: of choices at 1, 2 and 4 the two cheapest cost 3, and 5 with a row that keeps the second one out."""
    form = form_of([1.0, 2.0, 4.0], [({0: 1.0, 1: 1.0, 2: 1.0}, 1.5, INF)], upper=[1.0] * 3, integer=range(3))
    live = session(form, Memory())
    with live.trial():
        live.add_row(SparseRow(np.array([1]), np.ones(1), -np.inf, 0.5))
        assert live.solve().objective == pytest.approx(5.0)
        assert live.below(5.0).status == "infeasible"
    assert live.solve().objective == pytest.approx(3.0)


def test_a_search_that_takes_too_long_is_left_to_the_solver():
    draw = np.random.default_rng(2)
    form = random_form(draw)
    short = session(form, Memory(left=2))
    held_to(short.solve(), everything(form))
    assert session(form, Memory(left=2)).searched() is None


def test_time_that_is_over_proves_nothing():
    draw = np.random.default_rng(2)
    outcome = session(random_form(draw), Memory(), clock=Clock.of(0.0)).solve()
    assert (outcome.status, outcome.values) == ("stopped", None)


@pytest.mark.parametrize("seed", range(3))
def test_any_prices_bound_every_solution(seed):
    """Weak duality: whatever the prices, no solution is below the bound; an added row counts like any other."""
    draw = np.random.default_rng(seed)
    form = random_form(draw, 4)
    least = everything(form)
    bounds = WeakDuality(form, [SparseRow(np.array([0]), np.ones(1), -np.inf, 3.0)], form.objective)
    for _ in range(50):
        prices = draw.normal(size=form.rows + 1)
        assert least is None or bounds.bound(prices, form.lower, form.upper) <= least + 1e-9
