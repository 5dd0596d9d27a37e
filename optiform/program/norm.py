"""States columns that are a norm or a square of others, held exactly by tangent cuts.

With S = F'F the norm |F x| is the standard deviation sqrt(x'Sx). By the inequality of Cauchy and Schwarz
|F x| >= (F x0 / |F x0|)' F x for every x, with equality at x0. A row that counts on the column t of a norm, such as
m.x - k t >= L, is an ordinary row whose bound moves as any other; a cut says t alone, so it stays valid then.

The square q = |F x|^2 is convex too, and q >= 2 (F x0)' F x - |F x0|^2 touches it. Where a row wants q as large as can
be, only q <= (low + high) |F x| - low high, between low and high, is left of it: `solver` halves that range.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from optiform.program.program import SparseRow
from optiform.vectors import Floats, Indices


@dataclass(frozen=True, eq=False)
class Norm:
    """A column t of a form that is at least |F x|, with x some of the other columns.

    Attributes
    ----------
    column : int
        The column t, continuous and not below 0.
    indices : ndarray of int, shape (k,)
        The columns x.
    factor : ndarray, shape (r, k)
        The matrix F.
    """

    column: int
    indices: Indices = field(repr=False)
    factor: Floats = field(repr=False)

    def value(self, values: Floats) -> float:
        """Return |F x| at column values."""
        return float(np.linalg.norm(self.factor @ values[self.indices]))

    def of(self, column: int) -> Floats:
        """Return what one unit of a column adds to F x, shape (r,)."""
        return np.asarray(self.factor[:, self.indices == column].sum(axis=1), dtype=float)

    def cut(self, values: Floats) -> SparseRow:
        """Return the row t - (F x0 / |F x0|)' F x >= 0 that touches the norm at column values, where it is above 0."""
        there = self.factor @ values[self.indices]
        slope = (there / np.linalg.norm(there)) @ self.factor
        kept = np.flatnonzero(slope)
        indices = np.concatenate([self.indices[kept], [self.column]]).astype(np.intp)
        return SparseRow(indices, np.concatenate([-slope[kept], [1.0]]), 0.0, np.inf)

    def shifted(self, by: int) -> Norm:
        """Return the norm in a form that holds so many columns before these."""
        return replace(self, column=self.column + by, indices=self.indices + by)

    def at(self, position: Indices) -> Norm:
        """Return the norm in a form that holds some of the columns, the others being 0.

        Parameters
        ----------
        position : ndarray of int, shape (columns,)
            Where each column stands there, or -1; t itself stands there.
        """
        here = position[self.indices]
        stays = here >= 0
        column = int(position[self.column])
        return replace(self, column=column, indices=here[stays], factor=self.factor[:, stays])


@dataclass(frozen=True, eq=False)
class Square(Norm):
    """A column q of a form that is |F x|^2, with F of one row and F x never below 0."""

    def root(self, values: Floats) -> float:
        """Return |F x| at column values."""
        return super().value(values)

    def value(self, values: Floats) -> float:
        """Return |F x|^2 at column values."""
        return self.root(values) ** 2

    def cut(self, values: Floats) -> SparseRow:
        """Return the row q - 2 (F x0)' F x >= -|F x0|^2 that touches the square at column values."""
        root = self.root(values)
        return self.line(2.0 * root, -(root**2), np.inf)

    def within(self, low: float, high: float) -> tuple[SparseRow, ...]:
        """Return the rows that hold F x between two ends, and q below the straight line between their squares."""
        root = SparseRow(self.indices, self.factor[0], low, np.inf)
        return (
            root,
            replace(root, lower=-np.inf, upper=high),
            self.line(low + high, -np.inf, -low * high),
        )

    def line(self, slope: float, lower: float, upper: float) -> SparseRow:
        """Return the row lower <= q - slope F x <= upper."""
        indices = np.append(self.indices, self.column).astype(np.intp)
        return SparseRow(indices, np.append(-slope * self.factor[0], 1.0), lower, upper)


def lifted(norms: tuple[Norm, ...], values: Floats) -> Floats:
    """Return column values with the columns of norms and squares as they follow from the others.

    A norm may count on a square that stands before it.
    """
    if not norms:
        return values
    values = values.copy()
    for norm in norms:
        values[norm.column] = norm.value(values)
    return values
