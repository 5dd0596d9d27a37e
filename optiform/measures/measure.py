"""A measure: one number that a formula amounts to, defined once.

From one definition, value(x) = offset + (n . x) / (d . x), come the value of any formula, the row
of a limit, the conversion of a row's price into the user's units, and each material's part in it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from optiform.library.models import Trust
from optiform.vectors import Flags, Floats, Indices

Side = Literal["at_least", "at_most"]


@dataclass(frozen=True, eq=False)
class Row:
    """One linear row over materials: `coefficients` . x >= `bound` (at_least) or <= `bound` (at_most)."""

    coefficients: Floats
    side: Side
    bound: float


@dataclass(frozen=True, eq=False)
class Unknown:
    """What the parts of materials without data may add to a measure, whatever they turn out to be.

    Attributes
    ----------
    least, most : ndarray, shape (n,)
        Added to the numerator at the least and at the most.
    weight : ndarray, shape (n,), optional
        Added to the denominator, where that leaves out what is not known.
    note : str
        How the range was taken, where no scale of the measure's own gives it.
    """

    least: Floats = field(repr=False)
    most: Floats = field(repr=False)
    weight: Floats | None = field(default=None, repr=False)
    note: str = ""


@dataclass(frozen=True, eq=False)
class Measure:
    """A ratio of two linear forms over the materials of one library.

    Attributes
    ----------
    name, unit : str
        As the user reads them.
    numerator : ndarray, shape (n,)  [unit per % w/w, or unit * denominator]
        n of the definition.
    denominator : ndarray, shape (n,), optional
        d of the definition, never negative; absent for a plain total.
    offset : float  [unit]
    better : str, optional
        "higher" or "lower" where the trade has a preference.
    lowest, highest : float
        Range that a bound on this measure may have.
    trust : Trust
        The weakest origin among the data that carry it.
    digits : int
        Decimals that the number deserves on a screen.
    missing : ndarray of bool, shape (n,), optional
        Materials whose data lack for this measure; with any of them in a formula the value is null.
    note : str
        What a reader must know wherever the number is shown.
    retaken : callable, optional
        From an ionic strength [mol/kg] to the measure as it is there, where that matters.
    unknown : Unknown, optional
        The range of what is missing; absent where nothing bounds it.
    """

    name: str
    unit: str
    numerator: Floats = field(repr=False)
    denominator: Floats | None = field(default=None, repr=False)
    offset: float = 0.0
    better: Literal["higher", "lower"] | None = None
    lowest: float = -np.inf
    highest: float = np.inf
    trust: Trust = Trust.MEMORY
    digits: int = 2
    missing: Flags | None = field(default=None, repr=False)
    note: str = ""
    unknown: Unknown | None = field(default=None, repr=False)
    retaken: Callable[[float], Measure] | None = field(default=None, repr=False)

    @property
    def bound_decimals(self) -> int:
        """Return how many decimals a computed bound on it deserves."""
        return self.digits

    def at_strength(self, ionic_strength: float) -> Measure:
        """Return the measure at another ionic strength  [mol per kg of water]."""
        return self if self.retaken is None else self.retaken(ionic_strength)

    def value(self, amounts: Floats) -> float | None:
        """Return the measure of a formula, or None where it is not defined.

        `amounts` has shape (n,)  [% w/w].
        """
        if self.missing is not None and np.any(self.missing & (amounts > 0)):
            return None
        top = float(self.numerator @ amounts)
        if self.denominator is None:
            return self.offset + top
        bottom = float(self.denominator @ amounts)
        return self.offset + top / bottom if bottom > 0 else None

    def lacking(self, amounts: Floats) -> Indices:
        """Return the positions of the materials in a formula that leave the measure without a value."""
        if self.missing is None:
            return np.zeros(0, dtype=np.intp)
        return np.flatnonzero(self.missing & (amounts > 0))

    def span(self, amounts: Floats) -> tuple[float, float] | None:
        """Return between which values a measure lies whose data lack in part; None where nothing bounds it.

        `amounts` has shape (n,)  [% w/w].
        """
        if self.unknown is None:
            return None
        bottom = 1.0
        if self.denominator is not None:
            weight = (
                self.denominator if self.unknown.weight is None else self.denominator + self.unknown.weight
            )
            bottom = float(weight @ amounts)
        if bottom <= 0:
            return None
        ends = ((self.numerator + added) @ amounts for added in (self.unknown.least, self.unknown.most))
        low, high = (self.offset + float(end) / bottom for end in ends)
        return low, high

    def row(self, side: Side, bound: float) -> Row:
        """Return the row that says value >= bound or value <= bound."""
        if self.denominator is None:
            return Row(self.numerator, side, bound - self.offset)
        return Row(self.numerator - (bound - self.offset) * self.denominator, side, 0.0)

    def scale(self, amounts: Floats, bound: float | None = None) -> float:
        """Return d(row right-hand side) / d(bound) at a formula: 1 for a total, d . x for a ratio.

        A row's dual times this is the price of the bound in the measure's own unit.
        """
        return 1.0 if self.denominator is None else float(self.denominator @ amounts)

    def contributions(self, amounts: Floats) -> Floats:
        """Return each material's part in the value, shape (n,); the parts add up to value - offset."""
        parts = self.numerator * amounts
        if self.denominator is None:
            return parts
        bottom = float(self.denominator @ amounts)
        return parts / bottom if bottom > 0 else np.zeros_like(parts)
