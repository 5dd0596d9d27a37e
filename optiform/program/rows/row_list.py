"""Gathers rows while a program is written: one by one, or many alike in one block."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.program.program import SparseRow
from optiform.vectors import Floats, Indices


@dataclass(frozen=True, eq=False)
class RowBlock:
    """Some rows in compressed form.

    Attributes
    ----------
    lengths : ndarray of int, shape (rows,)
        How many values each row holds.
    indices, values : ndarray, shape (all values,)
    lower, upper : ndarray, shape (rows,)
    """

    lengths: Indices
    indices: Indices
    values: Floats
    lower: Floats
    upper: Floats

    @classmethod
    def alike(
        cls,
        indices: Indices,
        values: Floats,
        *,
        lower: float | Floats = -np.inf,
        upper: float | Floats = np.inf,
    ) -> RowBlock:
        """Return rows that hold equally many values: `indices` and `values` of shape (rows, values per row)."""
        rows, width = indices.shape
        return cls(
            lengths=np.full(rows, width, dtype=np.intp),
            indices=indices.astype(np.intp).ravel(),
            values=np.broadcast_to(values, indices.shape).astype(float).ravel(),
            lower=np.broadcast_to(np.asarray(lower, dtype=float), (rows,)),
            upper=np.broadcast_to(np.asarray(upper, dtype=float), (rows,)),
        )


def summed(columns: Indices, values: Floats) -> tuple[Indices, Floats]:
    """Return the columns of a row in rising order, each once, with the sum of its values."""
    order = np.argsort(columns, kind="stable")
    columns, values = columns[order], values[order]
    if np.any(columns[1:] == columns[:-1]):
        columns, inverse = np.unique(columns, return_inverse=True)
        values = np.bincount(inverse, weights=values, minlength=len(columns)).astype(float)
    return columns, values


@dataclass
class RowList:
    """Gathers rows in order and gives them out as arrays."""

    blocks: list[RowBlock] = field(default_factory=list)
    size: int = 0

    def __len__(self) -> int:
        """Return the number of rows."""
        return self.size

    def add(self, row: SparseRow) -> int:
        """Add a row and return its position."""
        return self.extend(
            RowBlock(
                lengths=np.array([len(row.indices)], dtype=np.intp),
                indices=row.indices,
                values=row.values,
                lower=np.array([row.lower]),
                upper=np.array([row.upper]),
            )
        )

    def extend(self, block: RowBlock) -> int:
        """Add a block of rows and return the position of its first."""
        first = self.size
        self.blocks.append(block)
        self.size += len(block.lengths)
        return first

    def joined(self) -> RowBlock:
        """Return all rows as one block."""
        return RowBlock(
            lengths=np.concatenate([block.lengths for block in self.blocks]).astype(np.intp),
            indices=np.concatenate([block.indices for block in self.blocks]).astype(np.intp),
            values=np.concatenate([block.values for block in self.blocks]).astype(float),
            lower=np.concatenate([block.lower for block in self.blocks]).astype(float),
            upper=np.concatenate([block.upper for block in self.blocks]).astype(float),
        )
