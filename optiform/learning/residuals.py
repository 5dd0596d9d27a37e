"""How well a linear model describes readings: residuals, leverage, lack of fit, and how well it predicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optiform.learning.conjugate import NormalInverseGamma
from optiform.learning.student import f_tail, student_t_quantile
from optiform.tolerances import NOISE, ROUNDING
from optiform.vectors import Floats

LEAST_REPEATS = 2
"""Degrees of freedom of pure error below which lack of fit is not tested: with one, F says next to nothing."""


@dataclass(frozen=True)
class LackOfFit:
    """Whether readings leave the model further than repeats leave each other.

    Attributes
    ----------
    ratio, p : float
        F, and the probability of so large a ratio where the model is right.
    square, degrees_of_freedom
        Of what the model leaves beyond the repeats.
    error_square, error_degrees_of_freedom
        Of the repeats about their means (pure error).
    """

    ratio: float
    p: float
    square: float
    degrees_of_freedom: int
    error_square: float
    error_degrees_of_freedom: int


@dataclass(frozen=True, eq=False)
class Residuals:
    """What a fit leaves of its own readings.

    Attributes
    ----------
    fitted, left, leverage : ndarray, shape (n,)
        Fitted values, residuals, and the part that each reading has in its own fitted value.
    square : float
        Sum of squared residuals.
    about_mean : float
        Sum of squares of the readings about their mean.
    """

    readings: Floats = field(repr=False)
    fitted: Floats = field(repr=False)
    left: Floats = field(repr=False)
    leverage: Floats = field(repr=False)
    square: float
    about_mean: float
    terms: int

    @property
    def degrees_of_freedom(self) -> int:
        """Return the number of readings less the number of terms."""
        return len(self.readings) - self.terms

    @property
    def r2(self) -> float | None:
        """Return the part of the variation about the mean that is described; None where nothing varies."""
        return None if self.about_mean <= ROUNDING else 1.0 - self.square / self.about_mean

    @property
    def left_out(self) -> Floats:
        """Return by how much each reading misses what the others predict; nan where it alone tells a term."""
        free = 1.0 - self.leverage
        known = free > NOISE
        return np.where(known, self.left / np.where(known, free, 1.0), np.nan)

    @property
    def press(self) -> float | None:
        """Return the sum of squared leave-one-out residuals; None where one reading alone tells a term."""
        return None if np.isnan(self.left_out).any() else float(self.left_out @ self.left_out)

    @property
    def r2_predicted(self) -> float | None:
        """Return R2 with each reading predicted by the others; below 0 the plain mean predicts better."""
        if self.press is None or self.about_mean <= ROUNDING:
            return None
        return 1.0 - self.press / self.about_mean


def residuals(
    rows: Floats, readings: Floats, before: NormalInverseGamma, after: NormalInverseGamma
) -> Residuals:
    """Return what the fit `after` of some readings leaves of them.

    Parameters
    ----------
    rows : ndarray, shape (n, p)
    readings : ndarray, shape (n,)
    before, after : NormalInverseGamma
        The prior and the posterior; under a flat prior everything here is that of least squares.

    Notes
    -----
    Under a prior the leave-one-out residual e / (1 - h) is exact too: it is the same ridge regression without the row.
    """
    fitted = rows @ after.mean
    left = readings - fitted
    leverage = np.einsum("ij,jk,ik->i", rows, after.inverse, rows)
    about = readings - readings.mean()
    terms = int(np.linalg.matrix_rank(after.precision - before.precision))
    return Residuals(readings, fitted, left, leverage, float(left @ left), float(about @ about), terms)


def lack_of_fit(rows: Floats, readings: Floats, repeats: Sequence[int] | None = None) -> LackOfFit | None:
    """Return the F test of lack of fit of least squares, or None where repeats or distinct formulas are too few.

    Parameters
    ----------
    repeats : sequence of int, optional
        For each row the number of its formula, counted from 0; rows of one number are repeats. By default equal rows.
    """
    group = np.unique(np.round(rows, 9), axis=0, return_inverse=True)[1].ravel()
    if repeats is not None:
        group = np.asarray(repeats)
    counts = np.bincount(group)
    means = np.bincount(group, readings) / counts
    error = float(np.sum((readings - means[group]) ** 2))
    error_freedom = len(readings) - len(counts)
    coefficients, _, rank, _ = np.linalg.lstsq(rows, readings, rcond=None)
    left = readings - rows @ coefficients
    square, freedom = float(left @ left) - error, len(counts) - int(rank)
    if error_freedom < LEAST_REPEATS or freedom < 1 or error <= ROUNDING:
        return None
    square = max(square, 0.0)
    ratio = (square / freedom) / (error / error_freedom)
    return LackOfFit(ratio, f_tail(ratio, freedom, error_freedom), square, freedom, error, error_freedom)


def outside(found: Residuals, after: NormalInverseGamma, sure: float = 0.95) -> NDArray[np.bool_]:
    """Flag the readings that the others would not have predicted, shape (n,).

    A reading stands out whose leave-one-out residual leaves the interval of Student's t that the other readings give.
    """
    others = max(after.degrees_of_freedom - 1.0, 1.0)
    free = np.clip(1.0 - found.leverage, NOISE, None)
    # Without reading i the rate loses half of e^2 / (1 - h); its prediction has variance b/a * 1 / (1 - h).
    rate = np.clip(after.rate - found.left**2 / free / 2.0, ROUNDING, None)
    scale = np.sqrt(rate / (others / 2.0) / free)
    return np.abs(np.nan_to_num(found.left_out)) > student_t_quantile((1.0 + sure) / 2.0, others) * scale
