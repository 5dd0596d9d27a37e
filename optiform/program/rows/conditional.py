"""Rows that hold only when a choice is taken, as tight as the library allows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.program.program import SparseRow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.library.arrays import Floats
    from optiform.measures import Row
    from optiform.program.program import Indices

FULL = 100.0


def conditional(row: Row, choices: Indices, max_use: Floats, absent: Sequence[int] = ()) -> SparseRow:
    """Return the row that holds when the choices add up to 1.

    With no choice taken the row is left open by the least (or most) that any formula without the
    materials that the choices stand for can give it, and no more: there is no large constant from
    the air. (So a limit on the share of a group, asked only while the group is used, is open by
    nothing: it holds always.)

    Parameters
    ----------
    row : Row
        Over materials, its bound as relaxed as it shall be.
    choices : ndarray of int
        Columns that add up to 0 or 1.
    max_use : ndarray, shape (n,)  [% w/w]
    absent : sequence of int
        Materials that no formula holds unless a choice is taken.
    """
    at_least = row.side == "at_least"
    room = max_use.copy()
    room[list(absent)] = 0.0
    opening = row.bound - extreme(row.coefficients, room, least=at_least)
    opening = max(opening, 0.0) if at_least else min(opening, 0.0)
    gates = choices if opening else choices[:0]
    indices = np.flatnonzero(row.coefficients)
    values = np.concatenate([row.coefficients[indices], np.full(len(gates), -opening)])
    columns = np.concatenate([indices, gates]).astype(np.intp)
    end = row.bound - opening
    return SparseRow(columns, values, end if at_least else -np.inf, np.inf if at_least else end)


def extreme(coefficients: Floats, max_use: Floats, *, least: bool) -> float:
    """Return the least (or most) of coefficients . x while x fills 100 % within its use levels."""
    order = np.argsort(coefficients if least else -coefficients, kind="stable")
    room = np.cumsum(max_use[order])
    taken = np.diff(np.minimum(room, FULL), prepend=0.0)
    return float(coefficients[order] @ taken)
