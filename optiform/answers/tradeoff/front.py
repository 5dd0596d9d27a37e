"""A trade-off as frozen values: everything a view needs, with every digit, and no wording of its own."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from optiform.answers.model.answer import AnswerStatus, Conflict
from optiform.answers.tradeoff.axes import Sense
from optiform.brief.models import Brief
from optiform.measures import Side
from optiform.showing import Showing

if TYPE_CHECKING:
    import pandas as pd


BENT = 17
"""Points along a stretch that is straight in a logarithm only."""

Change = Literal["", "amounts", "structure"]


@dataclass(frozen=True)
class Knot:
    """One formula on a curve.

    Attributes
    ----------
    bound : float
        The limit on the bounded measure.
    value : float
        The best of the improved measure under it.
    reached : float
        What the formula has of the bounded measure: at or beyond the bound.
    lines : tuple of (material id, % w/w)
        The formula, largest amount first.
    """

    bound: float
    value: float
    reached: float
    lines: tuple[tuple[str, float], ...] = field(repr=False)


@dataclass(frozen=True)
class Stretch:
    """A part of a curve on which one set of materials is the best, straight or nearly so.

    Attributes
    ----------
    start, end : Knot
        From the looser to the tighter bound.
    jump : float
        How much worse the best becomes at once where the stretch begins.
    price : float
        What tightening the bound by one of its units costs on the stretch; never negative.
    bracket : float, optional
        The optimum is proven to be nowhere better than the curve by more than this; None where the
        search was stopped before it was proven.
    structure : tuple of str
        The choices that make formulas different.
    change : str
        What differs from the stretch before: nothing but amounts ("amounts": other materials that are
        not part of the structure came or went), or the structure.
    entered, left : tuple of str
        Materials that come in and go out where the stretch begins.
    """

    start: Knot
    end: Knot
    jump: float
    price: float
    bracket: float | None
    structure: tuple[str, ...]
    change: Change = ""
    entered: tuple[str, ...] = ()
    left: tuple[str, ...] = ()

    @property
    def width(self) -> float:
        """Return how far the bound moves along the stretch."""
        return abs(self.end.bound - self.start.bound)

    @property
    def materials(self) -> tuple[str, ...]:
        """Return what takes part on the stretch, those among it that come from nothing or end in nothing."""
        return tuple(dict.fromkeys(name for knot in (self.start, self.end) for name, _ in knot.lines))


@dataclass(frozen=True)
class Free:
    """Bounds between which tightening costs nothing."""

    start: float
    end: float
    value: float


@dataclass(frozen=True)
class Knee:
    """A bound beyond which a further step costs several times as much.

    Attributes
    ----------
    before, after : float
        What one unit of the bound costs in the twentieth of the range before and after it.
    main : bool
        The curve is furthest below the straight line through its ends here.
    """

    bound: float
    value: float
    before: float
    after: float
    main: bool = False


@dataclass(frozen=True)
class Here:
    """Where the brief itself stands on the curve.

    Attributes
    ----------
    bound : float
        The brief's own limit on the bounded measure.
    value : float, optional
        The best under it; None where the curve does not reach that far.
    free_to : float, optional
        As far as this the bound could be tightened for nothing.
    """

    bound: float
    value: float | None
    free_to: float | None


@dataclass(frozen=True)
class Affords:
    """How far a limit of the brief on the improved measure allows the bound to go; None: nowhere."""

    limit: float
    bound: float | None


@dataclass(frozen=True)
class Third:
    """A limit on a third measure, the same along one curve of a family."""

    measure: str
    side: Side
    bound: float
    unit: str


@dataclass(frozen=True)
class Curve:
    """The best of one measure against the bound on another, over everything that can be reached.

    Attributes
    ----------
    stretches : tuple of Stretch
        From the loosest to the tightest bound; empty where nothing is possible at all.
    proven : bool
        Whether every stretch has a bracket.
    structures : int
        How many sets of choices were compared.
    logarithmic : (bool, bool)
        Whether the curve runs straight between its knots in the logarithm of the bound, and of the value.
    """

    stretches: tuple[Stretch, ...]
    proven: bool
    free: tuple[Free, ...] = ()
    knees: tuple[Knee, ...] = ()
    here: Here | None = None
    affords: Affords | None = None
    third: Third | None = None
    structures: int = 0
    logarithmic: tuple[bool, bool] = (False, False)

    @cached_property
    def knots(self) -> tuple[Knot, ...]:
        """Return the formulas along the curve; two at a bound where it jumps."""
        found: list[Knot] = []
        for stretch in self.stretches:
            if not found or found[-1] != stretch.start:
                found.append(stretch.start)
            found.append(stretch.end)
        return tuple(found)

    @property
    def loosest(self) -> float:
        """Return the bound that any formula holds."""
        return self.stretches[0].start.bound

    @property
    def tightest(self) -> float:
        """Return the furthest bound that any formula holds."""
        return self.stretches[-1].end.bound

    @property
    def costs_from(self) -> float:
        """Return the bound up to which nothing is paid, from the loosest on."""
        first = self.free[0] if self.free else None
        return first.end if first is not None and first.start == self.loosest else self.loosest

    def at(self, bound: float) -> float | None:
        """Return the best value under a bound, straight between knots on the scales of the curve; None beyond reach.

        Between two knots the true optimum is this or better by at most the stretch's bracket.
        """
        if not self.stretches:
            return None
        loosest, tightest = self.stretches[0].start.bound, self.stretches[-1].end.bound
        sign = 1.0 if tightest >= loosest else -1.0
        if sign * (bound - loosest) <= 0:
            return self.stretches[0].start.value
        for stretch in self.stretches:
            if sign * (stretch.end.bound - bound) >= 0:
                return self._between(stretch, bound)
        return None

    def _between(self, stretch: Stretch, bound: float) -> float:
        """Return the value at a bound of a stretch."""
        start, end = stretch.start, stretch.end
        if start.bound == end.bound:
            return start.value
        over, up = self.logarithmic
        ends = [start.bound, end.bound, bound]
        first, last, here = np.log(ends) if over else ends
        values = [start.value, end.value]
        low, high = np.log(values) if up else values
        found = low + (high - low) * min(max((here - first) / (last - first), 0.0), 1.0)
        return float(np.exp(found) if up else found)

    def path(self, stretch: Stretch) -> tuple[tuple[float, float], ...]:
        """Return bounds and values along a stretch: its ends, and points between them where it is bent."""
        start, end = stretch.start, stretch.end
        inner: tuple[tuple[float, float], ...] = ()
        if any(self.logarithmic):
            bounds = np.linspace(start.bound, end.bound, BENT)[1:-1].tolist()
            inner = tuple((bound, self._between(stretch, bound)) for bound in bounds)
        return ((start.bound, start.value), *inner, (end.bound, end.value))


@dataclass(frozen=True, repr=False)
class TradeOff(Showing):
    """What one measure costs of another: one curve, or a family of curves.

    Attributes
    ----------
    of, of_unit, sense
        What is improved, and whether it is minimised or maximised.
    against, against_unit, side
        What is bounded, and from which side.
    straight : bool
        Both are totals: stretches are straight and exact; else straight lines between the knots stay
        within the bracket of the optimum.
    of_digits, against_digits : int
        Decimals that the numbers deserve on a screen.
    """

    status: AnswerStatus
    proven: bool
    brief: Brief = field(repr=False)
    title: str
    library: str
    of: str
    of_unit: str
    of_digits: int
    sense: Sense
    against: str
    against_unit: str
    against_digits: int
    side: Side
    straight: bool
    curves: tuple[Curve, ...] = ()
    conflict: Conflict | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def curve(self) -> Curve:
        """Return the only curve, or the first of a family."""
        return self.curves[0]

    @cached_property
    def points(self) -> pd.DataFrame:
        """Return the knots of every curve as a table."""
        import pandas as pd

        columns = ["third", "bound", "value", "reached", "price_after", "bracket", "structure"]
        rows = [
            (
                None if curve.third is None else curve.third.bound,
                knot.bound,
                knot.value,
                knot.reached,
                stretch.price,
                stretch.bracket,
                ", ".join(stretch.structure),
            )
            for curve in self.curves
            for stretch in curve.stretches
            for knot in (stretch.start, stretch.end)
        ]
        return pd.DataFrame(rows, columns=columns)
