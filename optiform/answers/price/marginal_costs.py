"""Measures what moving one limit costs, by re-solves on each of its sides.

Optima of formulas are degenerate more often than not: the dual of a limit is then one of several
and says nothing reliable. So each cost here is a difference of two solves, and the interval on
which it holds ends where the slope of a solve differs. The best aim is a convex function of the bound
of a total, so that slopes at two points prove what lies between; with the bound of a ratio or a pH, or
where the aim is a ratio, it bends either way, and is solved again along the way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from optiform.answers.describe.limits import FULL, Limit
from optiform.measures import Measure
from optiform.program import Key, Requirement, SparseRow
from optiform.program.program import SleepingEnd
from optiform.program.rows.moves import MarginMove
from optiform.search.fixed_choices import Polished
from optiform.search.ranking import best
from optiform.solver import NO_LIMIT, Clock, OutOfTime, Session
from optiform.tolerances import NOISE, ROUNDING, TOLERANCE

SAME = 0.03
"""A cost holds while the slope stays within this part of it."""

FIRST_STEP = 1e-3
FARTHEST = 1e6
"""A cost that holds this far from its bound holds for good."""

ROUNDS = 60

WAY = (0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.9, 0.98, 1.0)
"""Parts of an interval at whose ends the cost is measured again where the best aim may bend either way."""

FAR_WAY = tuple(2.0**k for k in range(-3, 20))
"""The same for an interval without an end, in the unit of the bound, or in bounds where that is larger."""

SHRINKS = 8
"""An interval is taken back so often at most before what is proven of it is all that counts."""


@dataclass(frozen=True)
class Point:
    """The best aim with a requirement at one bound, and its slope there (aim per unit of the bound)."""

    bound: float
    objective: float
    slope: float


@dataclass(frozen=True)
class OneSide:
    """What moving a bound in one direction costs.

    Attributes
    ----------
    cost : float, optional
        Aim per unit of the bound, positive when the aim gets worse; None if the bound cannot move.
    reach : float
        Last bound at which that cost holds; infinite where it always does.
    ends : bool
        Whether nothing is possible beyond `reach`.
    """

    cost: float | None
    reach: float
    ends: bool


@dataclass
class Prices:
    """Asks what moving the limits of one formula costs, its choices kept; in time, or `OutOfTime` is raised."""

    polished: Polished
    clock: Clock = NO_LIMIT
    session: Session = field(init=False)
    objective: float = field(init=False)
    woken: tuple[SleepingEnd, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Open one live solver on the reduced program, and find its best aim: no tie-break stands in it.

        Where a row holds the upper end of a use range, the column gives way, so that the row can move.
        """
        reduced, program = self.polished.reduced, self.polished.program
        self.session = Session(reduced.form, arrays=True)
        for here, column in enumerate(reduced.free.tolist()):
            if column < program.size and len(program.uses[column]):
                self.session.set_column_bounds(here, float(reduced.form.lower[here]), FULL)
        self.woken = tuple(end for end in program.asleep if self.polished.values[end.columns].sum() > 0)
        self.objective = best(self.session, reduced.form.objective, reduced.ratio_aim).objective

    def at(self, limit: Limit, bound: float) -> Point | None:
        """Solve with a limit at another bound; None if nothing is possible there.

        A pH target that is loosened wakes the windows of what is used: beyond them it asks for nothing.
        """
        if self.clock.over():
            raise OutOfTime
        reduced, program = self.polished.reduced, self.polished.program
        wanted, bound = bound, self.awake(limit.requirement, bound)
        with self.session.trial():
            for row, move in limit.rows:
                self.session.set_row(row, reduced.row(move.row(bound, reduced.slack)))
            if limit.column is not None:
                self.session.set_column_bounds(limit.column, float(reduced.form.lower[limit.column]), bound)
            outcome = best(self.session, reduced.form.objective, reduced.ratio_aim)
        if outcome.values is None or outcome.row_dual is None or outcome.reduced_cost is None:
            return None
        if limit.column is not None:
            return Point(bound, outcome.objective, min(0.0, float(outcome.reduced_cost[limit.column])))
        if wanted != bound:
            return None if limit.requirement.side == "equal" else Point(wanted, outcome.objective, 0.0)
        amounts = reduced.full(outcome.values)[: program.size]
        slope = sum(float(outcome.row_dual[row]) * move.scale(amounts, bound) for row, move in limit.rows)
        return Point(bound, outcome.objective, slope)

    def awake(self, requirement: Requirement, bound: float) -> float:
        """Return a bound on pH, no looser than the windows that a formula asks for but that have no row."""
        if requirement.key.window != Key("targets", ("pH",)):
            return bound
        for end in self.woken:
            if requirement.side in (end.side, "equal"):
                bound = max(bound, end.bound) if end.side == "at_least" else min(bound, end.bound)
        return bound

    def side(self, limit: Limit, direction: float, told: float | None = None) -> OneSide:
        """Measure what moving a bound up (1) or down (-1) costs, and how far that holds.

        Parameters
        ----------
        told : float, optional
            The cost of moving it the other way, which stands for both where they are the same.
        """
        here = limit.requirement.bound or 0.0
        near = self._near(limit, here, direction)
        if near is None:
            return OneSide(None, here, ends=True)
        cost = (near.objective - self.objective) / abs(near.bound - here)
        slope = direction * cost
        if told is not None and _same(-told, cost):
            slope = -direction * told
        reach, ends = self._reach(limit, near, slope, self._outwards(limit, near.bound, direction))
        if self._bends(limit):
            reach, ends = self._proven(limit, slope, direction, reach, ends=ends)
        return OneSide(cost, reach, ends)

    def _bends(self, limit: Limit) -> bool:
        """Tell whether the best aim is no convex function of a bound: the bound is no plain right-hand side."""
        return self.polished.program.ratio_aim is not None or (
            limit.column is None and self._contents(limit) is None
        )

    def _proven(
        self, limit: Limit, slope: float, direction: float, reach: float, *, ends: bool
    ) -> tuple[float, bool]:
        """Return how far of an interval a cost holds, measured from each point along the way to the next.

        Where it does not, the interval is taken back to there and measured again.
        """
        here = limit.requirement.bound or 0.0
        start = Point(here, self.objective, slope)
        for _ in range(SHRINKS):
            unit = max(1.0, abs(here)) if np.isinf(reach) else abs(reach - here)
            if unit <= TOLERANCE * max(1.0, abs(here)):
                return reach, ends
            good = start
            for part in FAR_WAY if np.isinf(reach) else WAY:
                point = self.at(limit, here + direction * part * unit)
                if point is None or not _holds(good, point, slope):
                    break
                good = point
            else:
                return reach, ends
            reach, ends = self._last(limit, good, here + direction * part * unit, slope), False
        return good.bound, False

    def _last(self, limit: Limit, good: Point, bad: float, slope: float) -> float:
        """Return the last bound up to which a cost holds, between one where it does and one where it does not."""
        while abs(bad - good.bound) > TOLERANCE * max(1.0, abs(good.bound)):
            point = self.at(limit, 0.5 * (good.bound + bad))
            if point is not None and _holds(good, point, slope):
                good = point
            else:
                bad = 0.5 * (good.bound + bad)
        return good.bound

    def _near(self, limit: Limit, here: float, direction: float) -> Point | None:
        """Return a point so near that the cost between here and there is the slope there."""
        step = FIRST_STEP * max(1.0, abs(here))
        noise = NOISE * max(1.0, abs(self.objective))
        last: Point | None = None
        while step >= TOLERANCE:
            point = self.at(limit, here + direction * step)
            if point is not None:
                if last is None and abs(point.objective - self.objective) <= noise:
                    return Point(point.bound, self.objective, 0.0)
                last = point
                if _same(point.slope, (point.objective - self.objective) / (point.bound - here)):
                    return point
            step /= 8.0
        return last

    def _outwards(self, limit: Limit, near: float, direction: float) -> Iterator[float]:
        """Yield bounds further and further out, the last one where the limit cannot, or need not, go beyond."""
        requirement = limit.requirement
        loosening = (requirement.side == "at_least") == (direction < 0) and requirement.side != "equal"
        measure = self._measure(requirement)
        low, high = (-np.inf, np.inf) if measure is None else (measure.lowest, measure.highest)
        edge = float(high if direction > 0 else low)
        if loosening and np.isfinite(edge):
            yield edge
            return
        reachable = self._reachable(limit, direction)
        if reachable is not None:
            yield max(reachable, near) if direction > 0 else min(reachable, near)
            return
        stride = max(1.0, abs(near))
        while stride < FARTHEST:
            far = near + direction * stride
            if direction * (far - edge) >= 0:
                break
            yield far
            stride *= 2.0
        yield edge

    def _measure(self, requirement: Requirement) -> Measure | None:
        catalogue = self.polished.program.catalogue
        name = requirement.measure
        return catalogue.find(name) if name is not None and catalogue.known(name) else None

    def _reachable(self, limit: Limit, direction: float) -> float | None:
        """Return the extreme of a total with everything else held; None where the rows are no totals."""
        if limit.column is not None:
            return 0.0
        contents = self._contents(limit)
        if contents is None:
            return None
        objective = np.zeros(self.polished.reduced.form.columns)
        objective[contents[0][1].indices] = -direction * contents[0][1].values
        with self.session.trial():
            self.session.release(row for row, _ in contents)
            self.session.set_objective(objective)
            outcome = self.session.solve()
        if outcome.values is None:
            return None
        end = contents[0][1].lower if np.isfinite(contents[0][1].lower) else contents[0][1].upper
        return -direction * outcome.objective - end

    def _contents(self, limit: Limit) -> list[tuple[int, SparseRow]] | None:
        """Return the rows of a limit at a bound of 0, where only their right-hand sides follow the bound."""
        reduced = self.polished.reduced
        if len({type(move) for _, move in limit.rows}) != 1:
            return None
        found = []
        for row, move in limit.rows:
            if isinstance(move, MarginMove) and move.measure.logarithmic:
                return None
            zero, one = (reduced.row(move.row(bound, 0.0)) for bound in (0.0, 1.0))
            if not np.array_equal(zero.values, one.values):
                return None
            found.append((row, zero))
        return found

    def _reach(
        self, limit: Limit, near: Point, slope: float, outwards: Iterator[float]
    ) -> tuple[float, bool]:
        """Return the last bound where the slope is still the same, and whether it is the very end.

        It is infinite where the slope is the same however far the bound is moved.
        """
        good, far = near, None
        for furthest in outwards:
            if not np.isfinite(furthest):
                return furthest, False
            far = self.at(limit, furthest)
            if far is None or not (_same(far.slope, slope) or _on_line(near, far)):
                break
            good = far
        else:
            return good.bound, False
        bad_bound, bad = furthest, far
        for _ in range(ROUNDS):
            width = abs(bad_bound - good.bound)
            if width <= TOLERANCE * max(1.0, abs(good.bound)):
                break
            crossing = self._crossing(good, bad) if bad is not None else None
            middle = 0.5 * (good.bound + bad_bound) if crossing is None else crossing
            point = self.at(limit, middle)
            if crossing is not None and point is not None and _on_line(good, point):
                return middle, False
            if point is not None and _same(point.slope, slope):
                good = point
            else:
                bad_bound, bad = middle, point
        return good.bound, bad is None

    @staticmethod
    def _crossing(good: Point, bad: Point) -> float | None:
        """Return where the tangents of two points cross, if well between them."""
        difference = good.slope - bad.slope
        if abs(difference) < ROUNDING:
            return None
        crossing = (
            bad.objective - good.objective + good.slope * good.bound - bad.slope * bad.bound
        ) / difference
        low, high = sorted((good.bound, bad.bound))
        margin = 1e-3 * (high - low)
        return crossing if low + margin < crossing < high - margin else None


def _on_line(point: Point, other: Point) -> bool:
    """Tell whether another point lies on the tangent of a point."""
    there = point.objective + point.slope * (other.bound - point.bound)
    return abs(other.objective - there) <= ROUNDING * max(1.0, abs(other.objective))


def _holds(point: Point, other: Point, slope: float) -> bool:
    """Tell whether the best aim goes from one point to another as a slope says."""
    way = slope * (other.bound - point.bound)
    gone = other.objective - point.objective
    return abs(gone - way) <= SAME * abs(way) + NOISE * max(1.0, abs(point.objective))


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME * max(abs(one), abs(other)) + ROUNDING
