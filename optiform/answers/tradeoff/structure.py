"""Tells the best that one set of choices can do at each bound, by a live continuous program."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optiform.answers.tradeoff.axes import Axes, AxisOver
from optiform.program import USED, SparseRow, reduce
from optiform.program.extended import extended
from optiform.search.ranking import best
from optiform.solver import Session
from optiform.tolerances import CLEAR, EQUAL, NOISE, ROUNDING
from optiform.vectors import Floats

GIVES = (0.0, ROUNDING, NOISE, CLEAR)
"""A bound at the very end of the reach may be lost to the solver's tolerance: it is tried this much looser."""


@dataclass(frozen=True, eq=False)
class Point:
    """The best of one structure at one bound, both signed.

    Attributes
    ----------
    slope : float
        d(value) / d(bound), from the dual.
    values : ndarray, shape (columns of the program,)
    pattern : bytes
        Which columns and rows are held: equal patterns are one basis.
    """

    bound: float
    value: float
    slope: float
    values: Floats = field(repr=False)
    pattern: bytes = field(repr=False)


class Structure:
    """Every choice of a program fixed; the bound moves.

    Parameters
    ----------
    values : ndarray, shape (columns,)
        A solution whose choices are kept.
    slack : float
        How far limits on measures are relaxed, in their own units.

    Attributes
    ----------
    end : float
        The furthest bound that the structure reaches; -inf where it holds nothing at all.
    free_until : float
        The best value overall needs no bound up to here.
    """

    def __init__(self, axes: Axes, values: Floats, slack: float) -> None:
        self.axes = axes
        self.choices = values
        self.key = choices_of(axes, values)
        self.reduced = reduce(axes.program, values, slack)
        free = self.reduced.free
        added = int(axes.straight and bool(axes.against.top[free].any()))
        self.of = AxisOver.of(axes.of, added, free, self.reduced.fixed)
        self.against = AxisOver.of(axes.against, added, free, self.reduced.fixed)
        self.pattern = self.against.columns
        self.column, self.row = len(free), self.reduced.form.rows
        form = extended(self.reduced.form, [(-np.inf, np.inf)] * added, self._rows())
        self.session = Session(form, arrays=True)
        self.points: dict[float, Point] = {}
        self.end = self.free_until = -np.inf
        self._find_ends()

    def _rows(self) -> list[SparseRow]:
        """Return the row that moves with the bound (still open), and what keeps a mean defined."""
        if not len(self.pattern):
            return []
        rows = [SparseRow(self.pattern, np.ones(len(self.pattern)), -np.inf, np.inf)]
        if self.axes.straight:
            columns = np.append(self.pattern, self.column)
            values = np.append(self.against.top[self.pattern], -1.0)
            rows = [SparseRow(columns, values, -self.against.constant, np.inf)]
        if self.against.base is not None:
            present = np.flatnonzero(self.against.base)
            rows.append(SparseRow(present, self.against.base[present], USED, np.inf))
        return rows

    @property
    def possible(self) -> bool:
        """Tell whether the structure holds anything at all."""
        return bool(np.isfinite(self.end))

    def _find_ends(self) -> None:
        """Find the furthest bound, and how far the best of all reaches by itself."""
        furthest = best(self.session, -self.against.top, self.against.base)
        if furthest.values is None:
            return
        self.end = self.against.at(furthest.values)
        cheapest = best(self.session, self.of.top, self.of.base)
        if cheapest.values is None:
            self.end = -np.inf
            return
        self.least = self.of.at(cheapest.values)
        ceiling = self.of.row(self.least + ROUNDING * max(1.0, abs(self.least)))
        with self.session.trial():
            if len(ceiling.indices):
                self.session.add_row(ceiling)
            reached = best(self.session, -self.against.top, self.against.base)
        chosen = self._freely(cheapest.values, reached.values)
        self.free_until = min(self.against.at(chosen), self.end)
        self.flat = Point(self.free_until, self.least, 0.0, self.full(chosen), self._pattern(chosen))

    def _freely(self, cheapest: Floats, reached: Floats | None) -> Floats:
        """Return the best formula of all that reaches furthest; what only the tolerance gained is given back."""
        if reached is None:
            return cheapest
        own = self.against.at(cheapest)
        return reached if self.against.at(reached) - own > EQUAL * (self.end - own) else cheapest

    def lowest(self) -> float:
        """Return the least bound that a formula of the structure has by itself."""
        outcome = best(self.session, self.against.top, self.against.base)
        return self.end if outcome.values is None else self.against.at(outcome.values)

    def at(self, bound: float) -> Point | None:
        """Return the best at a bound, or None beyond the structure's reach."""
        if bound > self.end:
            return None
        if bound <= self.free_until:
            return Point(bound, self.least, 0.0, self.flat.values, self.flat.pattern)
        if bound not in self.points:
            for give in GIVES:
                found = self._solved(bound - give * max(1.0, abs(bound)))
                if found is not None:
                    self.points[bound] = replace(found, bound=bound)
                    break
        return self.points.get(bound)

    def at_least_worth(self, bound: float) -> float:
        """Return a value that the structure is not below at a bound, from what is known; infinite beyond its reach."""
        if bound > self.end + ROUNDING * max(1.0, abs(bound)):
            return np.inf
        known = [point.value for point in self.points.values() if point.bound <= bound]
        return max(known, default=self.least)

    @cached_property
    def traced(self) -> list[Point]:
        """Return every bound at which the slope changes, with both ends; for two totals only.

        Notes
        -----
        Between two bounds the least of value - slope * bound, the bound free and the slope that of
        the chord, is on the chord, or it is a kink below it that splits the stretch in two.
        """
        first, last = self.flat, self.at(self.end)
        if last is None or self.end - self.free_until <= ROUNDING * max(1.0, abs(self.end)):
            return [first]
        found = [first]
        waiting = [(first, last)]
        while waiting:
            left, right = waiting.pop()
            middle = self._below_chord(left, right)
            if middle is None:
                found.append(right)
            else:
                waiting += [(middle, right), (left, middle)]
        return found

    def between(self, left: Point, right: Point, depth: float, width: float) -> list[Point]:
        """Return points between two so that straight lines through all of them follow the curve.

        The curve may be off the lines by `depth` where it is looked at; points nearer than `width` need none between.

        Notes
        -----
        Where the tangents of the two points cross, a kink is expected: there the curve is looked at,
        else half-way. A curve that bends upwards is nowhere below its tangents, so where these come
        near enough to the chord nothing is left to find. A limit past a peak of salt may bend it downwards; then
        tangents do not meet between the points, and looking half-way is all that is done.
        """
        span = right.bound - left.bound
        if span <= width:
            return []
        crossing = _meeting(left, right)
        middle = self.at(0.5 * (left.bound + right.bound) if crossing is None else crossing)
        if middle is None:
            return []
        run = middle.bound - left.bound
        chord = left.value + (right.value - left.value) * run / span
        hidden = 0.0 if crossing is None else chord - left.value - left.slope * run
        if max(hidden, abs(chord - middle.value)) <= depth:
            return []
        before = self.between(left, middle, depth, width)
        return [*before, middle, *self.between(middle, right, depth, width)]

    def turns(self, left: Point, right: Point, fine: float) -> list[Point]:
        """Return where the basis changes between two points, to within `fine`, however little the curve bends there.

        Notes
        -----
        Just inside of both points the basis is theirs alone, at a kink it is that of both sides. Where
        the tangents inside cross is the kink, if there is only one; else the stretch is halved.
        """
        span = right.bound - left.bound
        inset = min(0.1 * fine, 0.25 * span)
        first, last = self.at(left.bound + inset), self.at(right.bound - inset)
        if first is None or last is None or first.pattern == last.pattern:
            return []
        crossing = _meeting(first, last)
        middle = self.at(0.5 * (left.bound + right.bound) if crossing is None else crossing)
        if middle is None or span <= fine:
            return [] if middle is None else [middle]
        before, after = self.turns(left, middle, fine), self.turns(middle, right, fine)
        at_middle = [middle] if crossing is not None or not before + after else []
        return [*before, *at_middle, *after]

    def _below_chord(self, left: Point, right: Point) -> Point | None:
        """Return the kink furthest below a chord, or None where there is none."""
        width = right.bound - left.bound
        if width <= CLEAR * max(1.0, abs(left.bound)):
            return None
        slope = (right.value - left.value) / width
        objective = self.of.top.copy()
        objective[self.column] -= slope
        with self.session.trial():
            self.session.set_column_bounds(self.column, left.bound, right.bound)
            outcome = best(self.session, objective)
        if outcome.values is None:
            return None
        bound = float(outcome.values[self.column])
        depth = left.value + slope * (bound - left.bound) - self.of.at(outcome.values)
        margin = CLEAR * width
        if (
            depth <= ROUNDING * max(1.0, abs(left.value))
            or not left.bound + margin < bound < right.bound - margin
        ):
            return None
        return self.at(bound)

    def _solved(self, bound: float) -> Point | None:
        if not len(self.pattern):
            return None
        with self.session.trial():
            if self.axes.straight:
                self.session.set_column_bounds(self.column, bound, bound)
            else:
                self.session.set_row(self.row, self.against.floor(bound))
            outcome = best(self.session, self.of.top, self.of.base)
        if outcome.values is None or outcome.row_dual is None:
            return None
        weight = 1.0 if self.against.base is None else float(self.against.base @ outcome.values)
        slope = max(float(outcome.row_dual[self.row]) * weight, 0.0)
        whole, pattern = self.full(outcome.values), self._pattern(outcome.values)
        return Point(bound, self.of.at(outcome.values), slope, whole, pattern)

    def full(self, values: Floats) -> Floats:
        """Return all columns of the program from those of the live session."""
        return self.reduced.full(values[: self.column])

    def _pattern(self, values: Floats) -> bytes:
        """Return which columns and rows are held at a solution."""
        form, values = self.reduced.form, values[: self.column]
        activity = form.activity(values)
        scale = np.maximum(1.0, np.abs(activity))
        tight_low = activity - form.row_lower <= CLEAR * scale
        tight_high = form.row_upper - activity <= CLEAR * scale
        flags = np.concatenate([values > CLEAR, form.upper - values <= CLEAR, tight_low, tight_high])
        return np.packbits(flags).tobytes()


def _meeting(left: Point, right: Point) -> float | None:
    """Return where the tangents of two points cross, if between them."""
    turn = right.slope - left.slope
    span = right.bound - left.bound
    if turn <= ROUNDING:
        return None
    at = left.bound + (left.value - right.value + right.slope * span) / turn
    return at if left.bound + EQUAL * span < at < right.bound - EQUAL * span else None


def choices_of(axes: Axes, values: Floats) -> bytes:
    """Return the whole-number columns of a solution as a key."""
    whole = axes.program.form.integer
    return np.round(values[whole]).astype(np.int8).tobytes()
