"""Finds the norms and squares of a form that a solution falls short of, and the tangent cuts that say so."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.norm import Square, lifted
from optiform.tolerances import CLEAR, CONE, ROUNDING
from optiform.vectors import among, distinct

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from optiform.program import Form, SparseRow
    from optiform.vectors import Floats

    Line = tuple[Mapping[int, float], float, float]


class Tangents:
    """The cuts of one session, and the rows in which its norms stand.

    Attributes
    ----------
    counting : list of int
        The rows of the form in which a norm stands.
    added : list of (int, SparseRow)
        The rows that the session added and are no cuts, each with its place, in their order.
    cuts : dict of int to SparseRow
        The cuts by their place.
    squares : tuple of Square
        The norms that are squares.
    """

    def __init__(self, form: Form) -> None:
        self.form = form
        self.squares = tuple(norm for norm in form.norms if isinstance(norm, Square))
        self._columns = [norm.column for norm in form.norms]
        self.counting: list[int] = []
        if form.norms:
            self.counting = distinct(form.owner[among(form.indices, self._columns)]).tolist()
        self.added: list[tuple[int, SparseRow]] = []
        self.cuts: dict[int, SparseRow] = {}

    def counting_added(self) -> Iterator[tuple[int, SparseRow]]:
        """Yield the rows that were added in which a norm stands, each with its place."""
        yield from (item for item in self.added if among(item[1].indices, self._columns).any())

    def idle(self, values: Floats) -> list[int]:
        """Return the places of cuts that do not touch a solution."""
        return [
            place
            for place, cut in self.cuts.items()
            if float(cut.values @ values[cut.indices]) - cut.lower > CLEAR * max(1.0, values[cut.indices[-1]])
        ]

    def dropped(self, places: Sequence[int]) -> None:
        """Follow the places of all rows that stay when some are taken away."""
        gone = sorted(places)

        def moved(place: int) -> int:
            return place - bisect_left(gone, place)

        self.added = [(moved(place), row) for place, row in self.added if place not in gone]
        self.cuts = {moved(place): cut for place, cut in self.cuts.items() if place not in gone}

    def lacking(
        self,
        values: Floats,
        objective: Floats,
        lines: Iterable[Line],
        between: Floats | None = None,
        within: float = CONE,
    ) -> tuple[SparseRow, ...]:
        """Return the cuts that a solution lacks: none where its norms, and its squares from below, hold as they are.

        A norm that a solution falls short of matters where a row breaks once the norm is what it is, or where the
        objective counts on it.

        Parameters
        ----------
        values, objective : ndarray, shape (columns,)
        lines : iterable of (mapping of column to value, lower, upper)
            The rows in which norms stand, as they are now.
        between : ndarray, shape (columns,), optional
            Column values at which the same norms are cut as well: solutions swing from corner to corner around the
            best one, and between them lies a point near it (W. Ben-Ameur and J. Neto, Networks 49 (2007) 3).
        within : float
            How far a row may be off at its norms as they are.
        """
        raised = values.copy()
        for norm in self.form.norms:
            raised[norm.column] = max(raised[norm.column], norm.value(raised))
        short = {column for column in self._columns if raised[column] > values[column] + ROUNDING}
        asked = {column for column in short if abs(objective[column]) * (raised - values)[column] > within}
        for content in _broken(raised, lines, within):
            asked |= short & content.keys()
        if asked:
            asked |= short.intersection(square.column for square in self.squares)
        points = (values,) if between is None else (values, between)
        return tuple(norm.cut(point) for norm in self.form.norms if norm.column in asked for point in points)

    def furthest_off(self, values: Floats, objective: Floats, lines: Iterable[Line]) -> int | None:
        """Return which square a solution misses most, or None where it holds with all of them as they are."""
        whole = lifted(self.form.norms, values)
        if float(objective @ (whole - values)) <= CONE and next(_broken(whole, lines, CONE), None) is None:
            return None
        off = [values[square.column] - whole[square.column] for square in self.squares]
        return None if max(off) <= ROUNDING else int(np.argmax(off))


def _broken(values: Floats, lines: Iterable[Line], within: float) -> Iterator[Mapping[int, float]]:
    """Yield the rows that do not hold at column values."""
    for content, lower, upper in lines:
        activity = sum(value * float(values[column]) for column, value in content.items())
        if activity < lower - within or activity > upper + within:
            yield content
