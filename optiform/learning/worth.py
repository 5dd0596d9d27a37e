"""Tells what a further trial is worth: how far it narrows a prediction."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from optiform.learning.conjugate import NormalInverseGamma
from optiform.tolerances import LAST_DIGITS
from optiform.vectors import Floats


def leverage_after(known: NormalInverseGamma, row: Floats, trial: Floats) -> float:
    """Return the leverage of a formula after a trial, which no result of the trial changes.

    `row` and `trial` have shape (p,).
    """
    across = float(row @ known.inverse @ trial)
    return known.leverage(row) - across**2 / (1.0 + known.leverage(trial))


def knowledge_gradient(known: NormalInverseGamma, rows: Floats, trial: Floats) -> float:
    """Return how much the best of several formulas is expected to gain by one trial, in the measure's unit.

    Parameters
    ----------
    rows : ndarray, shape (n, p)
        The formulas to choose between; the largest mean is chosen.
    trial : ndarray, shape (p,)

    Notes
    -----
    Exact for a known variance of one reading (Frazier, Powell and Dayanik, INFORMS J. Computing 21 (2009) 599-613;
    from memory): the expectation of the upper envelope of lines under a normal variable.
    """
    means = rows @ known.mean
    slopes = rows @ known.inverse @ trial
    slopes = slopes * math.sqrt(known.residual_variance / (1.0 + known.leverage(trial)))
    return expected_largest(means, slopes) - float(means.max())


def expected_largest(means: Floats, slopes: Floats) -> float:
    """Return the expectation of max(mean_i + slope_i Z) for a standard normal Z; both have shape (n,)."""
    lines = _envelope(means, slopes)
    ends = [-math.inf]
    ends.extend(_crossing(flat, steep) for flat, steep in pairwise(lines))
    ends.append(math.inf)
    return sum(
        mean * (_below(ends[i + 1]) - _below(ends[i])) + slope * (_density(ends[i]) - _density(ends[i + 1]))
        for i, (mean, slope) in enumerate(lines)
    )


def _envelope(means: Floats, slopes: Floats) -> list[tuple[float, float]]:
    """Return the lines that are largest somewhere, from the least slope on."""
    kept: list[tuple[float, float]] = []
    for mean, slope in sorted(zip(means.tolist(), slopes.tolist(), strict=True), key=lambda line: line[::-1]):
        if kept and slope - kept[-1][1] <= LAST_DIGITS:
            kept.pop()  # parallel, and not above
        while len(kept) > 1 and _crossing(kept[-1], (mean, slope)) <= _crossing(kept[-2], kept[-1]):
            kept.pop()
        kept.append((mean, slope))
    return kept


def _crossing(flat: tuple[float, float], steep: tuple[float, float]) -> float:
    return (flat[0] - steep[0]) / (steep[1] - flat[1])


def _below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _density(z: float) -> float:
    return math.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi)


def draws(known: NormalInverseGamma, how_many: int, seed: int | Sequence[int]) -> Floats:
    """Return coefficients as they may truly be, drawn from what is known, shape (how_many, p)."""
    random = np.random.default_rng(seed)
    variances = known.rate / random.gamma(known.shape, size=how_many)
    root = np.linalg.cholesky(known.inverse)
    normal = random.standard_normal((how_many, len(known.mean)))
    drawn: Floats = known.mean + np.sqrt(variances)[:, None] * (normal @ root.T)
    return drawn
