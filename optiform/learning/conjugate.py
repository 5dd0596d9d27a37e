"""Linear regression with a normal-inverse-gamma prior: closed form, for one trial or twenty.

The model is y = F beta + noise, beta ~ N(mean, variance * precision^-1), 1/variance ~ Gamma(shape, rate). After
readings the same four quantities describe what is known, so that the order of trials never matters (Gelman and others,
Bayesian Data Analysis, section 14.8; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from optiform.learning.student import student_t_quantile
from optiform.vectors import Floats

__all__ = ["NormalInverseGamma", "prior", "prior_share", "student_t_quantile"]


@dataclass(frozen=True, eq=False)
class NormalInverseGamma:
    """What is known of the coefficients of a linear model and of the variance of one reading.

    Attributes
    ----------
    mean : ndarray, shape (p,)
        The likeliest coefficients.
    precision : ndarray, shape (p, p)
        Inverse of their covariance, in units of the variance of one reading.
    shape, rate : float
        Of the gamma distribution of the inverse variance.
    """

    mean: Floats = field(repr=False)
    precision: Floats = field(repr=False)
    shape: float
    rate: float

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        for name in ("mean", "precision"):
            values = np.array(getattr(self, name), dtype=float)
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    @classmethod
    def flat(cls, terms: int) -> NormalInverseGamma:
        """Return the prior that knows nothing, under which the fit is that of least squares."""
        return cls(np.zeros(terms), np.zeros((terms, terms)), -terms / 2.0, 0.0)

    def updated(self, rows: Floats, readings: Floats) -> NormalInverseGamma:
        """Return what is known after further readings, shape (n,), at the rows of a design matrix, shape (n, p)."""
        rows, readings = np.atleast_2d(np.asarray(rows, dtype=float)), np.asarray(readings, dtype=float)
        precision: Floats = self.precision + rows.T @ rows
        mean = np.linalg.solve(precision, self.precision @ self.mean + rows.T @ readings).astype(np.float64)
        residuals, moved = readings - rows @ mean, mean - self.mean
        square = float(residuals @ residuals + moved @ self.precision @ moved)
        return NormalInverseGamma(mean, precision, self.shape + len(readings) / 2.0, self.rate + square / 2.0)

    @property
    def degrees_of_freedom(self) -> float:
        """Return the degrees of freedom of Student's t in every interval."""
        return 2.0 * self.shape

    @property
    def residual_variance(self) -> float:
        """Return the variance of one reading at a known mean."""
        return self.rate / self.shape

    @cached_property
    def inverse(self) -> Floats:
        """Return the inverse of the precision, shape (p, p)."""
        return np.linalg.inv(self.precision).astype(np.float64)

    @property
    def covariance(self) -> Floats:
        """Return the scale matrix of the coefficients, shape (p, p)."""
        return self.residual_variance * self.inverse

    def leverage(self, row: Floats) -> float:
        """Return how far a formula lies from what was tried: f' K^-1 f, the variance of its mean in readings."""
        row = np.asarray(row, dtype=float)
        return float(row @ self.inverse @ row)

    def predicted(self, row: Floats) -> tuple[float, float]:
        """Return the centre and the scale of Student's t for one new reading of a formula."""
        row = np.asarray(row, dtype=float)
        scale = np.sqrt(self.residual_variance * (1.0 + self.leverage(row)))
        return float(row @ self.mean), float(scale)

    def interval(self, row: Floats, sure: float = 0.9) -> tuple[float, float]:
        """Return between which values one new reading of a formula lies, with a probability."""
        centre, scale = self.predicted(row)
        half = student_t_quantile((1.0 + sure) / 2.0, self.degrees_of_freedom) * scale
        return centre - half, centre + half

    def coefficient_interval(self, term: int, sure: float = 0.9) -> tuple[float, float]:
        """Return between which values one coefficient lies, with a probability."""
        scale = float(np.sqrt(self.covariance[term, term]))
        half = student_t_quantile((1.0 + sure) / 2.0, self.degrees_of_freedom) * scale
        return float(self.mean[term]) - half, float(self.mean[term]) + half


def prior(
    values: Floats | Sequence[float],
    deviations: Floats | Sequence[float],
    noise: float,
    earlier_readings: float = 4.0,
) -> NormalInverseGamma:
    """Return the prior of coefficients that are remembered, each with its standard deviation.

    Parameters
    ----------
    values, deviations : ndarray, shape (p,)
    noise : float
        Standard deviation of one reading, as it is usual.
    earlier_readings : float
        How many readings that memory of the noise is worth: degrees of freedom.
    """
    shape = earlier_readings / 2.0
    precision = np.diag(noise**2 / np.asarray(deviations, dtype=float) ** 2)
    return NormalInverseGamma(np.asarray(values, dtype=float), precision, shape, shape * noise**2)


def prior_share(before: NormalInverseGamma, after: NormalInverseGamma) -> Floats:
    """Return which part of each coefficient still comes from the prior, shape (p,)  [0 to 1]."""
    return np.clip(np.diag(after.inverse @ before.precision), 0.0, 1.0)
