"""Tells what a sum of independent, uncertain charges is likely to come to.

Each source has a typical value, its median, and a distance from there to its 5th and to its 95th percentile. On each
side of the median it is normal with the width of that side (a two-piece normal distribution). The quantiles of a
sum follow from its mean, variance and skewness.

References
----------
.. [1] E. A. Cornish, R. A. Fisher, Rev. Inst. Int. Stat. 5 (1938) 307: quantiles from cumulants; the terms up to
   skewness are used (from memory).
"""

from __future__ import annotations

import math

from optiform.vectors import Floats

Z_95 = 1.6448536269514722
"""Standard normal value below which 95 % lie: the middle 90 % lie within it on either side."""


def quantile(below: Floats, above: Floats, z: float) -> float:
    """Tell how far a quantile of a sum lies from the sum of the medians.

    Parameters
    ----------
    below, above : ndarray, shape (sources,)
        Distance from the median to the 5th and to the 95th percentile of each source, zero or more.
    z : float
        The quantile as a standard normal value: `Z_95` for the 95th percentile, minus that for the 5th.

    Returns
    -------
    float
        Distance from the sum of the medians, in the unit of the sources.
    """
    left, right = below / Z_95, above / Z_95
    mean = (right - left) / math.sqrt(2.0 * math.pi)
    square = 0.5 * (left**2 + right**2)
    cube = math.sqrt(2.0 / math.pi) * (right**3 - left**3)
    variance = float((square - mean**2).sum())
    if variance <= 0.0:
        return 0.0
    deviation = math.sqrt(variance)
    skewness = float((cube - 3.0 * mean * square + 2.0 * mean**3).sum()) / deviation**3
    return float(mean.sum()) + deviation * (z + skewness * (z * z - 1.0) / 6.0)


def variances(below: Floats, above: Floats) -> Floats:
    """Tell the variance of each source, in its unit squared, from distances as in `quantile`, shape (sources,)."""
    left, right = below / Z_95, above / Z_95
    variance: Floats = 0.5 * (left**2 + right**2) - (right - left) ** 2 / (2.0 * math.pi)
    return variance
