"""What a refusal rests on is impossible by itself, and a decided question has the answer of the plain one.

Oracle: scipy's linprog and the solver's own search for nothing in particular, on programs drawn at random.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from optiform.solver import Refuting, Session
from tests.oracles import INF, dense, form_of

DRAWS = range(40)


def drawn(seed):
    """Return three amounts that choices open, and five limits on them that often collide."""
    draw = np.random.default_rng(seed)
    rows = [({k: 1.0, 3 + k: -4.0}, -INF, 0.0) for k in range(3)]
    rows += [
        ({k: float(draw.uniform(0.5, 2.0)) for k in range(3)}, float(draw.uniform(3, 12)), INF) for _ in "ab"
    ]
    rows += [
        ({k: float(draw.uniform(0.5, 2.0)) for k in range(3)}, -INF, float(draw.uniform(3, 9))) for _ in "ab"
    ]
    rows += [({3: 1.0, 4: 1.0, 5: 1.0}, -INF, float(draw.integers(1, 4)))]
    return form_of([0.0] * 6, rows, upper=[4.0] * 3 + [1.0] * 3, integer=range(3, 6))


def mixes(form, rows, upper):
    """Tell whether any mixture meets some rows within some upper bounds."""
    matrix = dense(form)[rows]
    sides = [(matrix, form.row_upper[rows]), (-matrix, -form.row_lower[rows])]
    finite = [(part[np.isfinite(bound)], bound[np.isfinite(bound)]) for part, bound in sides]
    found = linprog(
        np.zeros(form.columns),
        np.vstack([part for part, _ in finite]),
        np.concatenate([bound for _, bound in finite]),
        bounds=list(zip(form.lower, upper, strict=True)),
    )
    return found.status == 0


def test_what_a_refusal_rests_on_is_impossible_by_itself():
    refused = 0
    for seed in DRAWS:
        form = drawn(seed)
        session = Refuting(form)
        with session.trial():
            session.relax()
            if session.solve().found:
                continue
            rows, columns = session.cause()
        refused += 1
        upper = np.where([column in columns for column in range(form.columns)], form.upper, 100.0)
        assert not mixes(form, sorted(rows), upper)
    assert refused >= 5


@pytest.mark.parametrize("row", [3, 5])
def test_a_question_is_decided_as_it_is_solved(row):
    """The solution that is found meets the row that guided the search."""
    answers = set()
    for seed in DRAWS:
        form = drawn(seed)
        decided = Refuting(form).decide(row)
        assert (decided.values is None) == (not Session(form).solve().found)
        answers.add(decided.values is None)
        if decided.values is not None:
            sums = form.activity(decided.values)
            assert np.all(sums >= form.row_lower - 1e-6)
            assert np.all(sums <= form.row_upper + 1e-6)
    assert answers == {True, False}
