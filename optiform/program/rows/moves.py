"""Tells how a row follows the bound of its requirement, so that a what-if changes it in place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.measures import Measure, Row, Side
from optiform.measures.learned import Learned, curved
from optiform.program.program import SparseRow
from optiform.tolerances import HALF, ROUNDING
from optiform.vectors import Floats, Indices

PH_STEP = 1e-4
"""Step of a difference quotient over pH."""

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
    return SparseRow.of(columns, values, row.side, row.bound - opening)


def extreme(coefficients: Floats, max_use: Floats, *, least: bool) -> float:
    """Return the least (or most) of coefficients . x while x fills 100 % within its use levels."""
    order = np.argsort(coefficients if least else -coefficients, kind="stable")
    room = np.cumsum(max_use[order])
    taken = np.diff(np.minimum(room, FULL), prepend=0.0)
    return float(coefficients[order] @ taken)


def relaxed(measure: Measure, side: Side, bound: float, slack: float) -> Row:
    """Return the row of a bound on a measure, relaxed by `slack` in the unit on which it is linear.

    What a solver would take for nothing is nothing here already, so that solved and recomputed rows are the same:
    water's own charge per % near pH 7 is that small.
    """
    by = -slack if side == "at_least" else slack
    if curved(measure):
        row = measure.row(side, bound)
        row = replace(row, bound=row.bound + by)
    else:
        row = measure.row(side, bound + by)
    tiny = np.abs(row.coefficients) <= ROUNDING
    return replace(row, coefficients=np.where(tiny, 0.0, row.coefficients)) if tiny.any() else row


@dataclass(frozen=True, eq=False)
class MeasureMove:
    """A row that bounds a measure; the bound is relaxed by `slack`, in the measure's unit."""

    measure: Measure = field(repr=False)
    side: Side

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at a bound, without the materials that play no part in it."""
        row = relaxed(self.measure, self.side, bound, slack)
        indices = np.flatnonzero(row.coefficients)
        return SparseRow.of(indices, row.coefficients[indices], self.side, row.bound)

    def at_strength(self, ionic_strength: float) -> MeasureMove:
        """Return the move with what is bounded taken at another ionic strength."""
        return replace(self, measure=self.measure.at_strength(ionic_strength))

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound)."""
        return self.measure.scale(amounts, bound)


@dataclass(frozen=True, eq=False)
class ChargeMove(MeasureMove):
    """A row of charge that holds a pH although the free alkali is only known so well.

    Attributes
    ----------
    column : int
        The column of the scale of the charge, a norm  [meq per 100 g].
    times : float
    """

    column: int = -1
    times: float = 0.0

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at a pH: charge less (at its upper end: with) so many scales."""
        row = super().row(bound, slack)
        times = -self.times if self.side == "at_least" else self.times
        return replace(row, indices=np.append(row.indices, self.column), values=np.append(row.values, times))


@dataclass(frozen=True, eq=False)
class WhenMove:
    """A row that bounds a measure while a choice is taken, and is open otherwise.

    Attributes
    ----------
    choices : ndarray of int
        Columns that add up to 1 when the bound is asked for, else to 0.
    max_use : ndarray, shape (n,)  [% w/w]
    absent : sequence of int
        Materials that no formula holds unless a choice is taken.
    """

    measure: Measure = field(repr=False)
    side: Side
    choices: Indices = field(repr=False)
    max_use: Floats = field(repr=False)
    absent: Sequence[int] = ()

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at a bound; where it holds for any formula, no choice stands in it."""
        row = relaxed(self.measure, self.side, bound, slack)
        return conditional(row, self.choices, self.max_use, self.absent)

    def bites(self, bound: float) -> bool:
        """Tell whether any formula at all could miss the bound."""
        row = self.measure.row(self.side, bound)
        furthest = extreme(row.coefficients, self.max_use, least=self.side == "at_least")
        return furthest < row.bound if self.side == "at_least" else furthest > row.bound

    def taken(self, values: Floats) -> bool:
        """Tell whether the bound is asked for at these column values."""
        return float(values[self.choices].sum()) > 0.5

    def at_strength(self, ionic_strength: float) -> WhenMove:
        """Return the move with what is bounded taken at another ionic strength."""
        return replace(self, measure=self.measure.at_strength(ionic_strength))

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound) while the choice is taken."""
        return self.measure.scale(amounts, bound)


@dataclass(frozen=True, eq=False)
class EndMove:
    """A row on uncharged acid as it follows the upper end of the brief's pH, at which the acid is counted.

    Attributes
    ----------
    at : callable
        From an upper end of pH to the move of the limit on the acid there.
    limit : float  [% w/w]
        The bound on the acid itself.
    """

    at: Callable[[float], MeasureMove | WhenMove] = field(repr=False)
    side: Side
    limit: float

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at another upper end of pH."""
        return self.at(bound).row(self.limit, slack)

    def at_strength(self, ionic_strength: float) -> EndMove:
        """Return the move with the acid counted at another ionic strength."""
        return replace(self, at=lambda pH: self.at(pH).at_strength(ionic_strength))

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound): what one pH more takes from the uncharged acid  [% w/w]."""
        lower, upper = (self.at(bound + by).measure.numerator @ amounts for by in (-PH_STEP, PH_STEP))
        return float(lower - upper) / (2.0 * PH_STEP)


@dataclass(frozen=True, eq=False)
class MarginMove:
    """A row that bounds what a bench taught, less (or with) so many scales of its next reading.

    A measure whose logarithm is linear is relaxed, and met, on that scale: a millionth of a decade.

    Attributes
    ----------
    column : int
        The column of the scale, a norm; -1 where the likeliest value is bounded.
    times : float
    square : int
        The column of the square that the measure holds; -1 where it is linear.
    """

    measure: Learned = field(repr=False)
    side: Side
    column: int = -1
    times: float = 0.0
    square: int = -1

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at a bound."""
        by = -slack if self.side == "at_least" else slack
        return SparseRow.of(*self._content(), self.side, self.measure.scaled(bound) + by)

    def _content(self) -> tuple[Indices, Floats]:
        indices = np.flatnonzero(self.measure.numerator)
        times = -self.times if self.side == "at_least" else self.times
        both = ((self.square, self.measure.bend), (self.column, times))
        more = {column: value for column, value in both if column >= 0}
        values = np.append(self.measure.numerator[indices], list(more.values()))
        return np.append(indices, list(more)).astype(np.intp), values

    def value(self, values: Floats) -> float | None:
        """Return what is bounded at column values, in the measure's unit: what the next reading surely holds."""
        if self.measure.value(values[: len(self.measure.numerator)]) is None:
            return None
        indices, content = self._content()
        return self.measure.unscaled(float(content @ values[indices]))

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound)."""
        return self.measure.scale(amounts, bound)


@dataclass(frozen=True, eq=False)
class CountMove:
    """A row whose columns stay and whose right-hand side is the bound itself."""

    indices: Indices = field(repr=False)
    values: Floats = field(repr=False)
    side: Side

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at another bound."""
        return SparseRow.of(self.indices, self.values, self.side, bound)

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return 1: the bound is the right-hand side."""
        return 1.0


@dataclass(frozen=True, eq=False)
class UseMove:
    """A use level: the amount is 0 or beyond the bound, by way of the material's choice columns."""

    column: int
    choices: Indices = field(repr=False)
    side: Side

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return amount - bound * (used) >= 0, or <= 0."""
        indices = np.concatenate(([self.column], self.choices)).astype(np.intp)
        values = np.concatenate(([1.0], np.full(len(self.choices), -bound)))
        return SparseRow.of(indices, values, self.side, 0.0)

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return 1 where the material is used, else 0."""
        return 1.0 if amounts[self.column] > 0 else 0.0
