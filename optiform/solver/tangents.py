"""Which norms of a form a solution falls short of, and the tangent cuts that say so."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.program.norm import lifted
from optiform.tolerances import CONE, ROUNDING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from optiform.library.arrays import Floats
    from optiform.program import Form, SparseRow

    Line = tuple[Mapping[int, float], float, float]


class Tangents:
    """The cuts of one session, and the rows in which its norms stand.

    Attributes
    ----------
    counting : list of int
        The rows of the form in which a norm stands.
    added : dict of int to SparseRow
        The rows in which a norm stands that the session added, by place.
    rows : list of int
        The places of the cuts among the rows of the session.
    """

    def __init__(self, form: Form) -> None:
        self.form = form
        self._columns = [norm.column for norm in form.norms]
        self.counting: list[int] = []
        if form.norms:
            self.counting = np.unique(form.owner[np.isin(form.indices, self._columns)]).tolist()
        self.added: dict[int, SparseRow] = {}
        self.rows: list[int] = []

    def watch(self, place: int, content: SparseRow) -> None:
        """Remember a row that the session added, if a norm stands in it."""
        if self.form.norms and np.isin(content.indices, self._columns).any():
            self.added[place] = content

    def dropped(self, place: int) -> None:
        """Follow the places of cuts when a row that was added is taken away."""
        self.added.pop(place, None)
        self.rows = [row - (row > place) for row in self.rows]

    def held(
        self, values: Floats, objective: Floats, lines: Iterable[Line]
    ) -> tuple[Floats, tuple[SparseRow, ...]]:
        """Return a solution with its norms as they are, and the cuts that it lacks: none where it holds as it is.

        A norm that a solution falls short of matters where a row breaks once the norm is what it is, or where the
        objective counts on it.

        Parameters
        ----------
        values, objective : ndarray, shape (columns,)
        lines : iterable of (mapping of column to value, lower, upper)
            The rows in which norms stand, as they are now.
        """
        whole = lifted(self.form.norms, values)
        short = {column for column in self._columns if whole[column] > values[column] + ROUNDING}
        asked = {column for column in short if abs(objective[column]) * (whole - values)[column] > CONE}
        for content, lower, upper in lines:
            missing = short & content.keys()
            if missing:
                activity = sum(value * float(whole[column]) for column, value in content.items())
                if activity < lower - CONE or activity > upper + CONE:
                    asked |= missing
        cuts = tuple(norm.cut(values) for norm in self.form.norms if norm.column in asked)
        return whole, cuts
