"""Names the types of arrays in annotations."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]


def distinct(values: Indices) -> Indices:
    """Return each of some whole numbers once, in rising order: `numpy.unique` imports masked arrays."""
    rising = np.sort(values)
    return rising[np.concatenate([[True], rising[1:] != rising[:-1]])] if len(rising) else rising


def among(values: Indices, members: Indices | Sequence[int]) -> Flags:
    """Tell of whole numbers which are among some others, of which none is below 0 or very large."""
    return np.isin(values, np.asarray(members, dtype=np.intp), kind="table")
