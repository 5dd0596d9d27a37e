"""How rows follow the bounds of their requirements, so that a what-if changes them in place."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.program import TOLERANCE, SparseRow

if TYPE_CHECKING:
    from optiform.library.arrays import Floats
    from optiform.measures import Measure, Side
    from optiform.program.program import Indices

HALF = 0.5 * TOLERANCE


@dataclass(frozen=True, eq=False)
class MeasureMove:
    """A row that bounds a measure; the bound is relaxed by `slack`, in the measure's unit."""

    measure: Measure = field(repr=False)
    side: Side

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at a bound, without the materials that play no part in it."""
        relaxed = bound - slack if self.side == "at_least" else bound + slack
        row = self.measure.row(self.side, relaxed)
        indices = np.flatnonzero(row.coefficients)
        lower = row.bound if self.side == "at_least" else -np.inf
        upper = row.bound if self.side == "at_most" else np.inf
        return SparseRow(indices, row.coefficients[indices], lower, upper)

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
        lower = bound if self.side == "at_least" else -np.inf
        upper = bound if self.side == "at_most" else np.inf
        return SparseRow(self.indices, self.values, lower, upper)

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
        lower = 0.0 if self.side == "at_least" else -np.inf
        upper = 0.0 if self.side == "at_most" else np.inf
        return SparseRow(indices, values, lower, upper)

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return 1 where the material is used, else 0."""
        return 1.0 if amounts[self.column] > 0 else 0.0
