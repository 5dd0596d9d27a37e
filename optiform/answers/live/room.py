"""Tells how far the measure of each wish can go with everything else held."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.live.changes import Bound, changed
from optiform.answers.live.proof import near_best, polished_at, under
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault
from optiform.measures import Measure
from optiform.measures.acidity import Acidity, BufferCapacity
from optiform.program import Key, Move, Program
from optiform.program.reduction.part import Part
from optiform.program.rows.moves import CountMove, MeasureMove
from optiform.search.first_formula import LEAST_SHIFT, first_listed
from optiform.search.fixed_choices import Polished, polish
from optiform.search.incumbent import in_time
from optiform.search.ionic_strength import ground
from optiform.search.ranking import another_structure, value_of
from optiform.search.ranking import best as best_of
from optiform.search.relaxation import GRID, rounded
from optiform.solver import Clock, OutOfTime
from optiform.tolerances import EQUAL
from optiform.vectors import Floats

ACID = (Acidity, BufferCapacity)
SECTIONS = ("targets", "include", "choose", "share", "ratio")
FARTHEST = 1e6
"""A bound that works this far out, on a measure without an end, works anywhere."""


@dataclass(frozen=True)
class Room:
    """The least and the most that a wish's measure can be while everything else holds, in its own unit.

    A bound between the two asks for something and can be met: at_least up to `high`, at_most down to `low`.

    Attributes
    ----------
    exact : bool
        Whether both ends are extremes of the measure, proven at the ionic strength of the formula that reaches them.
        Where no form of its own tells a measure (pH, buffer capacity, each single share, viscosity), the end that can
        be met is right to 0.01, and the other one is the end of the scale.
    """

    low: float
    high: float
    exact: bool = True


@dataclass(frozen=True, eq=False)
class Rooms:
    """Asks for the room of the wishes of one brief.

    Attributes
    ----------
    program : Program
        The brief as it was built.
    known : Polished, optional
        A formula that meets it.
    """

    brief: Brief = field(repr=False)
    program: Program = field(repr=False)
    known: Polished | None = field(repr=False)
    clock: Clock = field(repr=False)

    def wishes(self) -> Iterator[Key]:
        """Yield the wishes of the brief that have a bound, those without a quick answer last."""
        asked = [
            (place, requirement.key)
            for place, requirement in enumerate(self.program.requirements)
            if requirement.key.section in SECTIONS and requirement.bound is not None
            and place in self.program.moves
        ]  # fmt: skip
        for quick in (True, False):
            yield from (key for place, key in asked if _single(self.program, place) is quick)

    def of(self, key: Key) -> Room | None:
        """Return the room of one wish; None where nothing holds all else.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        BadInput
            If the brief has no such wish with a bound.
        """
        if key not in set(self.wishes()):
            raise BadInput([Fault(self.brief.file, str(key), "the brief has no such wish with a bound")])
        place = self.program.index_of[key]
        if not _single(self.program, place):
            return self._by_halves(key, place)
        low, high = (self._extreme(place, sign) for sign in (1.0, -1.0))
        return None if low is None or high is None else Room(low, high)

    def _extreme(self, place: int, sign: float) -> float | None:
        """Return the least (sign 1) or the most (-1) that a measure can be without one of its bounds."""
        end = self._at_scale(place, sign)
        if end is not None:
            return end
        program = self.program if self.known is None else self.known.program
        found = _best(_freed(program, place, sign), self.clock)
        return None if found is None else _value(program, place, found.values)

    def _at_scale(self, place: int, sign: float) -> float | None:
        """Return the end of a measure's scale, where the formula that is known is there already."""
        move = self.program.moves[place][0][1]
        if self.known is None or not isinstance(move, MeasureMove):
            return None
        end = move.measure.lowest if sign > 0 else move.measure.highest
        here = move.measure.value(self.known.values[: self.program.size])
        return end if here is not None and abs(here - end) <= EQUAL else None

    def _by_halves(self, key: Key, place: int) -> Room | None:
        """Return the room of a wish that no single form tells, by asking whether bounds on a grid can be met."""
        requirement = self.program.requirements[place]
        move = self.program.moves[place][0][1]
        lowest, highest = _scale(move)
        direction = 1 if requirement.side == "at_least" else -1
        if requirement.side == "equal":
            return None if self.known is None else Room(requirement.bound or 0.0, requirement.bound or 0.0)
        here = requirement.bound or 0.0
        start = here if self._met(key, here) else lowest if direction > 0 else highest
        if not math.isfinite(start) or (start != here and not self._met(key, start)):
            return None
        end = self._furthest(key, start, highest if direction > 0 else lowest, direction)
        return Room(lowest, end, exact=False) if direction > 0 else Room(end, highest, exact=False)

    def _furthest(self, key: Key, start: float, limit: float, direction: int) -> float:
        """Return the last bound on the grid that can be met, from one that can, towards the end of a scale."""
        limit = self._before_other_side(key, limit, direction)
        stride = max(1.0, abs(start))
        while not math.isfinite(limit):
            if stride > FARTHEST:
                return limit
            if not self._met(key, start + direction * stride):
                limit = start + direction * stride
            stride *= 2.0
        good, bad = start, limit
        if self._met(key, limit):
            return limit
        while abs(bad - good) > GRID * (1.0 + EQUAL):
            middle = rounded(0.5 * (good + bad), -direction)
            middle = middle if middle not in (good, bad) else rounded(0.5 * (good + bad), direction)
            if middle in (good, bad):
                break
            good, bad = (middle, bad) if self._met(key, middle) else (good, middle)
        return good

    def _before_other_side(self, key: Key, limit: float, direction: int) -> float:
        """Return the limit of a search, no further than the other side of the same wish."""
        side = "at_most" if direction > 0 else "at_least"
        other = self.program.index_of.get(key.end(side))
        bound = None if other is None else self.program.requirements[other].bound
        return limit if bound is None else (min if direction > 0 else max)(limit, bound)

    def _met(self, key: Key, bound: float) -> bool:
        """Tell whether any formula meets the brief with a wish at another bound."""
        found = first_listed(changed(self.brief, Bound(key, bound)), self.clock)
        if found.polished is None and found.stopped:
            raise OutOfTime
        return found.polished is not None


def _single(program: Program, place: int) -> bool:
    """Tell whether one form over the columns, or the ratio of two, is what a requirement bounds."""
    moves = [move for _, move in program.moves[place]]
    if len(moves) == 1 and isinstance(moves[0], CountMove):
        return True
    measures = {id(move.measure) for move in moves if isinstance(move, MeasureMove)}
    return (
        len(measures) == 1
        and all(isinstance(move, MeasureMove) for move in moves)
        and not any(
            isinstance(move, MeasureMove) and isinstance(move.measure, Acidity | BufferCapacity)
            for move in moves
        )
    )


def _scale(move: Move) -> tuple[float, float]:
    """Return the ends of the scale of what a row bounds."""
    measure: Measure | None = getattr(move, "measure", None)
    return (-math.inf, math.inf) if measure is None else (measure.lowest, measure.highest)


def _forms(program: Program, place: int) -> tuple[Floats, Floats | None, float]:
    """Return numerator and denominator over all columns, and the offset, of what a requirement bounds."""
    move = program.moves[place][0][1]
    top, width = np.zeros(program.form.columns), program.size
    if isinstance(move, CountMove):
        np.add.at(top, move.indices, move.values)
        return top, None, 0.0
    if not isinstance(move, MeasureMove):
        raise TypeError(f"no single form bounds {program.requirements[place].title}")
    top[:width] = move.measure.numerator
    if move.measure.denominator is None:
        return top, None, move.measure.offset
    base = np.zeros(program.form.columns)
    base[:width] = move.measure.denominator
    return top, base, move.measure.offset


def _value(program: Program, place: int, values: Floats) -> float:
    """Return what a requirement bounds at column values."""
    top, base, offset = _forms(program, place)
    return offset + value_of(top, base, values)


def _freed(program: Program, place: int, sign: float) -> Program:
    """Return a program without one bound, whose aim is the least (sign 1) or the most (-1) of what that bounds."""
    top, base, _ = _forms(program, place)
    form = program.form
    lower, upper = form.row_lower.copy(), form.row_upper.copy()
    rows = [row for row, _ in program.moves[place]]
    lower[rows], upper[rows] = -np.inf, np.inf
    return replace(
        program,
        form=replace(form, objective=sign * top, row_lower=lower, row_upper=upper),
        moves=program.moves.without([place]),
        acid_rows=tuple(acid for acid in program.acid_rows if acid.row not in rows),
        ratio_aim=base,
        preferences=(),
    )


def _best(program: Program, clock: Clock) -> Polished | None:
    """Return the best formula of a program, solved at its own ionic strength.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.

    Notes
    -----
    Structures are taken from the best on until one reaches at its own ionic strength what it reached at that of the
    search; one that falls short stands back behind the next.
    """
    near = near_best(program, clock)
    best = polished_at(program, ground(program, clock).first) if near is None else near[0]
    if best is None:
        return None
    clear = LEAST_SHIFT * max(1.0, abs(best.objective))
    if near is not None and best.objective <= near[1] + clear:
        return best
    screened = under(best, best.objective + clear, clock)
    if screened is None or screened.session is None:
        return polished_at(program, ground(program, clock).first)
    program, part, session, outcome = screened.program, screened.part, screened.session, screened.first
    while outcome.objective < best.objective - clear:
        if in_time(outcome).values is None or outcome.values is None:
            break
        values = np.where(part.form.integer, np.round(outcome.values), outcome.values)
        polished = polish(program, part.full(values) if isinstance(part, Part) else values)
        if polished is not None and polished.objective < best.objective:
            best = polished
        if not len(part.structure) or best.objective <= outcome.objective + clear:
            break
        session.add_row(another_structure(part, values))
        outcome = best_of(session, part.form.objective, part.ratio_aim)
    if outcome.status == "stopped":
        raise OutOfTime
    return best
