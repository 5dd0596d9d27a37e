"""Proves that no formula lies below a stretch of a trade-off, by one integer program with the bound as a variable.

For a stretch of bounds [p, q] and a straight line under it, the least of (value - line) over all
formulas and all bounds of the stretch tells whether any formula is below the line anywhere. Where a
measure is a mean, the product of the bound and its denominator is replaced by the two straight
under-estimates of a product on a box (McCormick, Mathematical Programming 10 (1976) 147), so the
proof stays valid and tightens as the stretch shrinks. Two means over the same base share that product,
and nothing has to be estimated.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.tradeoff.axes import Axes, AxisOver
from optiform.program import USED, SparseRow
from optiform.program.extended import extended
from optiform.search.ranking import best
from optiform.solver import Clock, Outcome, Session
from optiform.tolerances import CLEAR
from optiform.vectors import Floats

Range = tuple[float, float]
ONE: Range = (1.0, 1.0)


@dataclass(frozen=True)
class Line:
    """value = start + slope * bound, both signed, on a stretch of bounds from p to q."""

    p: float
    q: float
    start: float
    slope: float

    @classmethod
    def through(cls, p: float, at_p: float, q: float, at_q: float) -> Line:
        """Return the line through two points; it never falls."""
        slope = max((at_q - at_p) / (q - p), 0.0) if q > p else 0.0
        return cls(p, q, at_p - slope * p, slope)

    def at(self, bound: float) -> float:
        """Return the value at a bound."""
        return self.start + self.slope * bound


@dataclass(frozen=True, eq=False)
class Verdict:
    """How far below a line anything may be.

    Attributes
    ----------
    gap : float
        No formula is further below the line than this, in the unit of the value; it may be less.
    values : ndarray, optional
        Where it is furthest below, as far as the under-estimate tells.
    stopped : bool
        The search was stopped; `gap` means nothing.
    """

    gap: float
    values: Floats | None = field(default=None, repr=False)
    stopped: bool = False


class Bounding:
    """Holds a program with the bound as a column, once with its choices and once with all of them relaxed."""

    def __init__(self, axes: Axes, clock: Clock) -> None:
        self.axes = axes
        form = axes.program.form
        self.width = form.columns
        self.of, self.against = AxisOver.of(axes.of, 2), AxisOver.of(axes.against, 2)
        self.bound, self.product = form.columns, form.columns + 1
        self.first = form.rows
        wide = extended(form, [(-np.inf, np.inf)] * 2, self._rows())
        self.whole = Session(wide, clock=clock, arrays=True)
        self.relaxed = Session(replace(wide, integer=np.zeros(wide.columns, dtype=bool)), clock=clock)

    def _rows(self) -> list[SparseRow]:
        """Return two rows for the bound, two for the product, and what keeps means defined; the first four open."""
        taken = [*self.against.columns, self.bound]
        if self.axes.alike:
            taken.append(self.product)
        used = [*self.of.columns, self.bound, self.product]
        rows = [_open(taken), _open(taken), _open(used), _open(used)]
        for part in (self.of, self.against):
            if part.base is not None:
                present = np.flatnonzero(part.base)
                rows.append(SparseRow(present, part.base[present], USED, np.inf))
        return rows

    def lowest(self) -> Outcome:
        """Solve for the least bound that any formula has by itself."""
        return self._best(self.against.top, self.against.base)

    def highest(self) -> Outcome:
        """Solve for the furthest bound that any formula reaches."""
        return self._best(-self.against.top, self.against.base)

    def cheapest(self) -> Outcome:
        """Solve for the best value with no bound at all."""
        return self._best(self.of.top, self.of.base)

    def _best(self, top: Floats, base: Floats | None) -> Outcome:
        """Solve for the least of a total or a mean; a mean from that of the relaxed choices on."""
        relaxed = np.inf if base is None else best(self.relaxed, top, base).objective
        return best(self.whole, top, base, float(relaxed) if np.isfinite(relaxed) else 0.0)

    def verdict(self, line: Line, ceiling: float, enough: float) -> Verdict:
        """Tell how far below a line any formula may be on its stretch.

        The ceiling is reached everywhere on the stretch: formulas above it do not matter. A gap of `enough` counts as
        none: the relaxed choices may settle it.
        """
        against, of = (self._range(part, line, ceiling) for part in (self.against, self.of))
        quick = self._least(self.relaxed, line, against, of)
        if not quick.stopped and quick.gap <= enough:
            return quick
        return self._least(self.whole, line, against, of, enough)

    def _least(
        self, session: Session, line: Line, against: Range, of: Range, enough: float | None = None
    ) -> Verdict:
        """Return how far below a line anything is; where that is `enough`, it need not be known more closely."""
        objective = self.of.top.copy()
        if self.of.base is None:
            objective[self.bound] -= line.slope
        else:
            objective -= line.start * self.of.base
            objective[self.product] -= line.slope
        with session.trial():
            session.set_column_bounds(self.bound, line.p, line.q)
            for row, content in enumerate(self._stretch(line, against, of)):
                session.set_row(self.first + row, content)
            session.set_objective(objective)
            outcome = session.solve() if enough is None else session.below(self._cutoff(line, of, enough))
        if outcome.status == "stopped":
            return Verdict(np.inf, None, stopped=True)
        if outcome.values is None:
            return Verdict(-np.inf if enough is None else enough)
        if self.of.base is None:
            return Verdict(line.start - outcome.bound, outcome.values[: self.width])
        below = -outcome.bound
        return Verdict(below / (of[0] if below > 0 else of[1]), outcome.values[: self.width])

    def _cutoff(self, line: Line, of: Range, enough: float) -> float:
        """Return the objective from which on a formula is no further below a line than is enough."""
        if self.of.base is None:
            return line.start - enough
        return -enough * (of[0] if enough > 0 else of[1])

    def _stretch(self, line: Line, against: Range, of: Range) -> Iterator[SparseRow]:
        """Yield the rows that tie the bound and its product to a formula on a stretch."""
        if self.axes.alike:
            yield self._tied(self.against.top, -1.0, np.inf)
            yield self._tied(-line.p * self._base, 1.0, np.inf)
            yield self._tied(-line.q * self._base, 1.0, 0.0)
            return
        yield self._reaches(line.p, against[0])
        if self.against.base is not None:
            yield self._reaches(line.q, against[1])
        else:
            yield _open([*self.against.columns, self.bound])
        if self.of.base is not None:
            yield self._over(line.q, of[0])
            yield self._over(line.p, of[1])

    @property
    def _base(self) -> Floats:
        if self.of.base is None:
            raise TypeError("a total has no denominator")
        return self.of.base

    def _tied(self, values: Floats, times: float, upper: float) -> SparseRow:
        """Return the row values . columns + times * product >= 0, or <= 0 with an upper end of 0."""
        values = values.copy()
        values[self.product] = times
        lower = -np.inf if upper == 0.0 else 0.0
        return _row(values, [int(i) for i in np.flatnonzero(values)], lower, upper)

    def _reaches(self, end: float, weight: float) -> SparseRow:
        """Return the row value >= bound, the denominator's product with it taken from one end of the stretch."""
        values = np.zeros(self.width + 2)
        values[: self.width] = self.against.top[: self.width]
        if self.against.base is None:
            values[self.bound] = -1.0
            return _row(values, [*self.against.columns, self.bound], 0.0, np.inf)
        values -= end * self.against.base
        values[self.bound] = -weight
        return _row(values, [*self.against.columns, self.bound], -end * weight, np.inf)

    def _over(self, end: float, weight: float) -> SparseRow:
        """Return the row product <= end * denominator + weight * (bound - end)."""
        values = -end * self._base
        values[self.product], values[self.bound] = 1.0, -weight
        return _row(values, [*self.of.columns, self.bound, self.product], -np.inf, -end * weight)

    def _range(self, part: AxisOver, line: Line, ceiling: float) -> Range:
        """Return what a denominator can be in formulas that matter on a stretch."""
        if part.base is None:
            return ONE
        ends = []
        with self.relaxed.trial():
            floor = self._reaches(line.p, 0.0)
            if self.against.base is None:
                self.relaxed.set_column_bounds(self.bound, line.p, line.p)
            self.relaxed.set_row(self.first, floor)
            values = self.of.top if self.of.base is None else self.of.top - ceiling * self.of.base
            present = np.flatnonzero(values)
            if len(present):
                end = (ceiling if self.of.base is None else 0.0) + CLEAR * max(1.0, abs(ceiling))
                self.relaxed.add_row(SparseRow(present, values[present], -np.inf, end))
            for sign in (1.0, -1.0):
                self.relaxed.set_objective(sign * part.base)
                outcome = self.relaxed.solve()
                ends.append(None if outcome.status != "solved" else sign * outcome.objective)
        low, high = ends
        largest = 100.0 * float(np.max(part.base)) if high is None else max(high, USED)
        return (USED if low is None else max(low, USED)), largest


def _open(columns: list[int]) -> SparseRow:
    return SparseRow(np.array(columns, dtype=np.intp), np.ones(len(columns)), -np.inf, np.inf)


def _row(values: Floats, columns: list[int], lower: float, upper: float) -> SparseRow:
    indices = np.array(columns, dtype=np.intp)
    return SparseRow(indices, values[indices], lower, upper)
