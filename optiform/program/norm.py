"""Columns that bound a norm from above: margins for uncertainty, held exactly by tangent cuts.

With S = F'F the norm |F x| is the standard deviation sqrt(x'Sx). By the inequality of Cauchy and Schwarz
|F x| >= (F x0 / |F x0|)' F x for every x, with equality at x0. A row that counts on the column t of a norm, such as
m.x - k t >= L, is an ordinary row whose bound moves as any other; a cut says t alone, so it stays valid then.
"""

from __future__ import annotations

from dataclasses import dataclass, field

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
        return Norm(self.column + by, self.indices + by, self.factor)

    def at(self, position: Indices) -> Norm:
        """Return the norm in a form that holds some of the columns, the others being 0.

        Parameters
        ----------
        position : ndarray of int, shape (columns,)
            Where each column stands there, or -1; t itself stands there.
        """
        here = position[self.indices]
        stays = here >= 0
        return Norm(int(position[self.column]), here[stays], self.factor[:, stays])


def lifted(norms: tuple[Norm, ...], values: Floats) -> Floats:
    """Return column values with the columns of norms as they follow from the others."""
    if not norms:
        return values
    values = values.copy()
    for norm in norms:
        values[norm.column] = norm.value(values)
    return values
