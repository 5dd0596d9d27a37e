"""What the tests hold answers against: forms from plain lists, and the conditions of an optimum."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from optiform.program.program import Form
from optiform.solver import Outcome, Session

INF = np.inf
Line = tuple[Mapping[int, float], float, float]


def form_of(
    objective: Sequence[float],
    rows: Sequence[Line],
    lower: Sequence[float] | None = None,
    upper: Sequence[float] | None = None,
    integer: Sequence[int] = (),
) -> Form:
    """Return a form from rows written as ({column: value}, lower, upper); columns start at 0 to infinity."""
    columns = len(objective)
    lengths = [len(content) for content, _, _ in rows]
    return Form(
        lower=np.zeros(columns) if lower is None else np.array(lower, dtype=float),
        upper=np.full(columns, INF) if upper is None else np.array(upper, dtype=float),
        integer=np.isin(np.arange(columns), list(integer)),
        objective=np.array(objective, dtype=float),
        starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.intp),
        indices=np.array([i for content, _, _ in rows for i in content], dtype=np.intp),
        values=np.array([v for content, _, _ in rows for v in content.values()], dtype=float),
        row_lower=np.array([low for _, low, _ in rows], dtype=float),
        row_upper=np.array([high for _, _, high in rows], dtype=float),
    )


def held_form(session: Session) -> Form:
    """Return what a solver itself holds, read out of it."""
    lp = session._highs.getLp()
    matrix = np.zeros((lp.num_row_, lp.num_col_))
    by_column = "olwise" in str(lp.a_matrix_.format_)
    starts = list(lp.a_matrix_.start_)
    for outer in range(len(starts) - 1):
        for k in range(starts[outer], starts[outer + 1]):
            inner = lp.a_matrix_.index_[k]
            matrix[(inner, outer) if by_column else (outer, inner)] += lp.a_matrix_.value_[k]
    return form_of(
        list(lp.col_cost_),
        [
            ({column: float(row[column]) for column in np.flatnonzero(row).tolist()}, low, high)
            for row, low, high in zip(matrix, lp.row_lower_, lp.row_upper_, strict=True)
        ],
        lower=list(lp.col_lower_),
        upper=list(lp.col_upper_),
        integer=[column for column, kind in enumerate(lp.integrality_) if str(kind).endswith("Integer")],
    )


def dense(form: Form) -> np.ndarray:
    """Return the rows of a form as a matrix, shape (rows, columns)."""
    matrix = np.zeros((form.rows, form.columns))
    np.add.at(matrix, (form.owner, form.indices), form.values)
    return matrix


def assert_optimal(form: Form, outcome: Outcome, tolerance: float = 1e-7) -> None:
    """Hold a continuous solve against the conditions of an optimum (Karush, Kuhn and Tucker).

    Primal: every row and column within its bounds. Dual: a price pushes only against a bound that is
    there, in the direction that helps. Stationarity: objective = rows * prices + reduced costs.
    Complementarity: no price where there is room. Together they prove the optimum without the solver.
    """
    assert outcome.status == "solved"
    assert outcome.values is not None and outcome.row_dual is not None and outcome.reduced_cost is not None
    x, matrix = outcome.values, dense(form)
    assert outcome.objective == float(form.objective @ x) or np.isclose(
        outcome.objective, form.objective @ x, rtol=1e-9
    )
    _assert_side(matrix @ x, form.row_lower, form.row_upper, outcome.row_dual, tolerance, "row")
    _assert_side(x, form.lower, form.upper, outcome.reduced_cost, tolerance, "column")
    left = form.objective - matrix.T @ outcome.row_dual - outcome.reduced_cost
    scale = 1.0 + np.abs(form.objective) + np.abs(matrix).T @ np.abs(outcome.row_dual)
    assert np.all(np.abs(left) <= tolerance * scale), f"not stationary: {left}"
    ends = (
        (outcome.row_dual, form.row_lower, form.row_upper),
        (outcome.reduced_cost, form.lower, form.upper),
    )
    dual_value = sum(
        float(np.sum(_times(np.maximum(p, 0), lo) - _times(np.maximum(-p, 0), hi))) for p, lo, hi in ends
    )
    assert abs(dual_value - outcome.objective) <= tolerance * (1 + abs(dual_value)), (
        "primal and dual values differ"
    )


def _assert_side(
    activity: np.ndarray, lower: np.ndarray, upper: np.ndarray, price: np.ndarray, tolerance: float, what: str
) -> None:
    scale = 1.0 + np.abs(activity)
    room_below, room_above = activity - lower, upper - activity
    assert np.all(room_below >= -tolerance * scale), f"{what} under its bound"
    assert np.all(room_above >= -tolerance * scale), f"{what} over its bound"
    pushed = np.abs(price) > tolerance
    wrong = pushed & np.where(
        price > 0, room_below > 1e3 * tolerance * scale, room_above > 1e3 * tolerance * scale
    )
    assert not wrong.any(), f"{what} {np.flatnonzero(wrong)}: a price where there is room"


def _times(price: np.ndarray, bound: np.ndarray) -> np.ndarray:
    """Return price * bound, 0 where there is no price (so that 0 times infinity is 0; dust counts as none)."""
    return np.where(price > 1e-9, price, 0.0) * np.where(np.isfinite(bound), bound, 0.0)
