"""Measures that a bench taught: linear in the amounts, or their logarithm is, with what is not known of them.

One may hold a square besides: that of its electrolyte, by which viscosity rises to a peak of salt and falls beyond.

A new reading at amounts x is Student's t about m . x with scale sqrt(s2 (1 + x'K^-1 x)). Amounts add up to 100, so the
1 is (sum x / 100)^2 and the scale is a norm |F x|: of coefficients over the terms, of the reading over all materials.
How far x lies from the trials, x'K^-1 x, is the square of a norm as well. Where a square is fitted it is one more entry
of x in both.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.library.models import Trust
from optiform.measures.measure import Measure, Row, Side

if TYPE_CHECKING:
    from optiform.library.models import Library
    from optiform.trials.learned import LearnedMeasure
    from optiform.vectors import Flags, Floats, Indices

FULL = 100.0
UNITS = {"viscosity": ("mPa.s", 0)}
"""Unit and decimals of measures that are always read in the same unit."""

LOGARITHM = "log10 "
"""How the unit of a logarithm begins."""

DECADE_DIGITS = 3


@dataclass(frozen=True, eq=False)
class Learned(Measure):
    """A measure as a bench taught it; null where a surfactant or thickener is used that was not tried.

    Attributes
    ----------
    taught : LearnedMeasure
        What the bench says of it: its terms, their coefficients, and the trials.
    places : ndarray of int, shape (p,)
        Where each term stands among the materials; -1 for one that the library lacks, and no formula holds.
    electrolyte : ndarray, optional, shape (n,)
        What 1 % of each material brings of the electrolyte whose square counts too; absent: linear.
    """

    taught: LearnedMeasure = field(kw_only=True, repr=False)
    places: Indices = field(kw_only=True, repr=False)
    electrolyte: Floats | None = field(default=None, kw_only=True, repr=False)

    @property
    def logarithmic(self) -> bool:
        """Tell whether the logarithm is what is linear in the amounts."""
        return self.taught.scale == "log10"

    def value(self, amounts: Floats) -> float | None:
        """Return the likeliest value of a formula, or None outside its base."""
        linear = super().value(amounts)
        if linear is not None and self.electrolyte is not None:
            linear += self.bend * float(self.electrolyte @ amounts) ** 2
        return None if linear is None else self.unscaled(linear)

    def predicted(
        self, amounts: Floats, sure: float
    ) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """Return between which values the mean of a formula's readings, and the next one, lie; None outside its base.

        Both with the probability `sure`, as a meter shows them.
        """
        linear = Measure.value(self, amounts)
        if linear is None:
            return None
        row = np.where(self.places >= 0, amounts[self.places], 0.0)
        if self.electrolyte is not None:
            row = np.append(row, float(self.electrolyte @ amounts) ** 2)
            linear += self.bend * float(row[-1])
        knowledge = self.taught.knowledge
        leverage, times = knowledge.leverage(row), self.times((1.0 + sure) / 2.0)
        halves = times * np.sqrt(knowledge.residual_variance * np.array([leverage, 1.0 + leverage]))
        mean, reading = (
            (self.unscaled(linear - half), self.unscaled(linear + half)) for half in halves.tolist()
        )
        return mean, reading

    @property
    def bend(self) -> float:
        """Return the coefficient of the square; 0 where none is fitted."""
        return 0.0 if self.electrolyte is None else float(self.taught.knowledge.mean[-1])

    def row(self, side: Side, bound: float) -> Row:
        """Return the row that says likeliest value >= bound or <= bound."""
        return Row(self.numerator, side, self.scaled(bound))

    def scaled(self, bound: float) -> float:
        """Return a value on the scale on which the measure is linear; minus infinity for what has no logarithm."""
        if not self.logarithmic:
            return bound
        return float(np.log10(bound)) if bound > 0 else -np.inf

    def unscaled(self, linear: float) -> float:
        """Return the value that stands for a number on the linear scale."""
        return float(10.0**linear) if self.logarithmic else linear

    def scale(self, amounts: Floats, bound: float | None = None) -> float:
        """Return d(row right-hand side) / d(bound)."""
        if not self.logarithmic or bound is None or bound <= 0:
            return 1.0
        return float(1.0 / (bound * np.log(10.0)))

    @property
    def spread(self) -> Floats:
        """Return F with |F x| the scale of one new reading on the linear scale.

        Its columns are the materials, and where a square is fitted that square behind them.
        """
        knowledge = self.taught.knowledge
        factor = self._over_materials(factor_of(knowledge.covariance))
        reading = np.zeros((1, factor.shape[1]))
        reading[0, : len(self.numerator)] = np.sqrt(knowledge.residual_variance) / FULL
        return np.vstack([factor, reading])

    @property
    def distance(self) -> Floats:
        """Return F with |F x|^2 the leverage of a formula; its columns are those of the spread."""
        knowledge = self.taught.knowledge
        return self._over_materials(factor_of(knowledge.covariance / knowledge.residual_variance))

    def _over_materials(self, root: Floats) -> Floats:
        """Return a matrix over the coefficients as one over all materials, and the square behind them."""
        factor = np.zeros((len(root), len(self.numerator)))
        here = np.flatnonzero(self.places >= 0)
        factor[:, self.places[here]] = root[:, here]
        return factor if self.electrolyte is None else np.column_stack([factor, root[:, -1]])

    @property
    def furthest(self) -> float:
        """Return the largest |F x| of a trial, with F the distance; 0 where nothing was tried."""
        leverages = [self.taught.knowledge.leverage(row) for row in self.taught.rows]
        return float(np.sqrt(max(leverages, default=0.0)))

    def times(self, sure: float) -> float:
        """Return by how many scales a reading lies above its middle with a probability of 1 - sure."""
        from optiform.learning.conjugate import student_t_quantile

        return student_t_quantile(sure, self.taught.knowledge.degrees_of_freedom)


def curved(measure: Measure | None) -> bool:
    """Tell whether a measure is no linear form of the amounts: its logarithm is, or it holds a square."""
    return isinstance(measure, Learned) and (measure.logarithmic or measure.electrolyte is not None)


def bent(measure: Measure | None) -> bool:
    """Tell whether a measure is linear on no scale: it has coefficients beyond those of its materials."""
    return isinstance(measure, Learned) and len(measure.taught.knowledge.mean) > len(measure.taught.materials)


def as_aim(measure: Measure) -> Measure:
    """Return what is made large or small in place of a measure: its logarithm, where that is what is linear.

    A logarithm rises with what it is taken of, so that both are best at the same formula; differences of it, and so
    every price, are in decades.
    """
    if not (isinstance(measure, Learned) and measure.logarithmic):
        return measure
    return Measure(
        name=measure.name,
        unit=f"{LOGARITHM}{measure.unit}".rstrip(),
        numerator=measure.numerator,
        trust=measure.trust,
        digits=DECADE_DIGITS,
        missing=measure.missing,
        note=measure.note,
    )


def factor_of(matrix: Floats) -> Floats:
    """Return R with R'R a positive semi-definite matrix."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray(np.sqrt(np.maximum(values, 0.0))[:, None] * vectors.T, dtype=float)


def outside(library: Library, base: frozenset[str]) -> Flags:
    """Flag the surfactants and thickeners of a library that are not of a base, shape (n,)."""
    from optiform.trials.models import STRUCTURAL

    arrays = library.arrays
    structural = np.logical_or.reduce([arrays.has_function(word) for word in STRUCTURAL])
    held = np.isin([material.id for material in library.materials], sorted(base))
    return np.asarray(structural & ~held, dtype=bool)


def learned(library: Library, taught: LearnedMeasure) -> Learned:
    """Return what a bench taught as a measure of a library."""
    index = library.arrays.material_index
    places = np.array([index.get(name, -1) for name in taught.materials], dtype=np.intp)
    here = np.flatnonzero(places >= 0)
    numerator = np.zeros(len(library.materials))
    numerator[places[here]] = taught.knowledge.mean[here]
    electrolyte = None
    if taught.electrolyte:
        electrolyte = np.zeros(len(library.materials))
        electrolyte[places[here]] = np.array(taught.electrolyte)[here]
    unit, digits = UNITS.get(taught.name, ("", 2))
    count = len(taught.rows)
    return Learned(
        name=taught.name,
        unit=unit,
        numerator=numerator,
        lowest=0.0 if taught.scale == "log10" else -np.inf,
        trust=Trust.OWN,
        digits=digits,
        missing=outside(library, taught.base),
        note=f"from your own bench, {count} trial{'s' if count != 1 else ''}, in the base that was tried",
        taught=taught,
        places=places,
        electrolyte=electrolyte,
    )
