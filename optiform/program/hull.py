"""States that a formula is a mixture of trials that passed a gate."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.tolerances import LAST_DIGITS
from optiform.vectors import Floats, Indices

STEPS = 10
"""Steps for each column of a least-squares problem: two or three are usual."""


@dataclass(frozen=True, eq=False)
class Hull:
    """Columns that hold the share of each trial in the mixture that a formula is.

    Attributes
    ----------
    columns : ndarray of int, shape (t,)
    materials : ndarray of int, shape (k,)
        Those whose amounts differ between the trials; -1 for one that the library lacks, and no formula holds.
    points : ndarray, shape (t, k)  [% w/w]
        Their amounts in each trial.
    """

    columns: Indices
    materials: Indices = field(repr=False)
    points: Floats = field(repr=False)

    def fill(self, values: Floats) -> None:
        """Set the shares to those of the nearest mixture: where it is the formula itself, the formula lies inside."""
        matrix = np.vstack([self.points.T, np.full(len(self.columns), 100.0)])
        wanted = np.append(np.where(self.materials >= 0, values[self.materials], 0.0), 100.0)
        values[self.columns] = nonnegative(matrix, wanted)


def nonnegative(matrix: Floats, wanted: Floats) -> Floats:
    """Return the x >= 0 with the least |A x - b|, by active sets.

    Source: C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23 (from memory).
    """
    size = matrix.shape[1]
    x, free = np.zeros(size), np.zeros(size, dtype=bool)
    scale = LAST_DIGITS * max(1.0, float(np.abs(matrix).max())) * max(1.0, float(np.abs(wanted).max()))
    for _ in range(STEPS * size):
        slope = matrix.T @ (wanted - matrix @ x)
        if free.all() or slope[~free].max() <= scale:
            break
        free[np.argmax(np.where(free, -np.inf, slope))] = True
        while True:
            trial = np.zeros(size)
            trial[free] = np.linalg.lstsq(matrix[:, free], wanted, rcond=None)[0]
            low = free & (trial <= 0)
            if not low.any():
                x = trial
                break
            step = float(np.min(x[low] / np.maximum(x[low] - trial[low], LAST_DIGITS)))
            x = x + step * (trial - x)
            free &= x > LAST_DIGITS
            x[~free] = 0.0
    return x
