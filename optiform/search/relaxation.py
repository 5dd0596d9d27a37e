"""Tells how far one requirement must give way, all others held: exact, and rounded to the side that works."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import numpy as np

from optiform.measures import Measure
from optiform.measures.acidity import Acidity
from optiform.program import Move, Program, Requirement
from optiform.program.rows.moves import CountMove, MarginMove, MeasureMove
from optiform.search import incumbent
from optiform.search.ranking import best
from optiform.search.smallest_integer import least
from optiform.solver import Outcome, Session
from optiform.tolerances import NEARLY_HALF
from optiform.vectors import Floats

GRID = 0.01

FURTHEST = 10**9


class Mover:
    """Moves the bounds of a program in a live session that holds it.

    Parameters
    ----------
    program : Program
    session : Session
        Holds the program at its ionic strength.
    """

    def __init__(self, program: Program, session: Session) -> None:
        self.program, self.session = program, session

    def directions(self, index: int) -> tuple[int, ...]:
        """Return which ways a bound can give: 1 up, -1 down, both for an equality."""
        side = self.program.requirements[index].side
        return {"at_least": (-1,), "at_most": (1,)}.get(side or "", (-1, 1))

    @contextmanager
    def within(self, bounds: Mapping[int, float]) -> Iterator[Session]:
        """Hold requirements at other bounds for a while."""
        with self.session.trial():
            self.move(bounds, self.session)
            yield self.session

    def move(self, bounds: Mapping[int, float], session: Session) -> None:
        """Hold requirements at other bounds from now on."""
        for index, bound in bounds.items():
            for row, move in self.program.moves[index]:
                session.set_row(row, move.row(bound))

    def reach(self, index: int, direction: int) -> float | None:
        """Return the nearest bound on a grid of 0.01 (1 for counts) that works, or None if none does."""
        grid = self.grid(index)
        start = round(rounded(self.program.requirements[index].bound or 0.0, direction, grid) / grid)
        last = self._last(index, direction, start)

        def bounds(number: int) -> dict[int, float]:
            return {index: (start + direction * number) * grid}

        if not self._simple(index):
            found = least(self, bounds, last)
            return None if found is None else round(bounds(found[0])[index], 2)
        for relaxed in (True, False):
            furthest = self._extreme(index, direction, relaxed=relaxed)
            number = 0 if furthest is None else max(direction * (round(furthest / grid) - start), 0)
            if furthest is None or number > last:
                return None
            if not relaxed or self.found_within(bounds(number)).values is not None:
                return round(bounds(number)[index], 2)
        return None

    def best_at(self, index: int, bound: float) -> Outcome:
        """Solve for the aim with a requirement at another bound."""
        return self.best_within({index: bound})

    def best_within(self, bounds: Mapping[int, float]) -> Outcome:
        """Solve for the aim with requirements at other bounds."""
        with self.within(bounds) as session:
            return incumbent.optimum(
                session, self.program, self.program.form.objective, self.program.ratio_aim
            )

    def found_within(self, bounds: Mapping[int, float]) -> Outcome:
        """Find any formula with requirements at other bounds, or prove that there is none."""
        with self.within(bounds) as session:
            return incumbent.in_time(incumbent.witness(session, self.program))

    def mixable_within(self, bounds: Mapping[int, float]) -> bool:
        """Tell whether any mixture is possible with requirements at other bounds and all choices relaxed."""
        with self.within(bounds) as session:
            return incumbent.mixable(session, self.program)

    def grid(self, index: int) -> float:
        """Return the unit of the last printed place of a bound."""
        return place_of(self.program.requirements[index])

    def _simple(self, index: int) -> bool:
        """Tell whether one linear or ratio form carries the bound, so that it can be the objective."""
        moves = [move for _, move in self.program.moves[index]]
        if len(moves) == 1 and isinstance(moves[0], CountMove | MarginMove):
            return True
        measures = {id(move.measure) for move in moves if isinstance(move, MeasureMove)}
        acid = any(isinstance(move, MeasureMove) and isinstance(move.measure, Acidity) for move in moves)
        return len(measures) == 1 and all(isinstance(move, MeasureMove) for move in moves) and not acid

    def _extreme(self, index: int, direction: int, *, relaxed: bool) -> float | None:
        """Return how far a bound must move by the extreme of the measure itself, rounded to the side that works."""
        bound = self.program.requirements[index].bound or 0.0
        top, base, offset = self._forms(index)
        with self.session.trial() as session:
            for row, move in self.program.moves[index]:
                if getattr(move, "side", "") == ("at_least" if direction < 0 else "at_most"):
                    session.release([row])
            if relaxed:
                session.relax()
                outcome = best(session, direction * top, base)
            else:
                outcome = incumbent.optimum(session, self.program, direction * top, base)
        if outcome.values is None or outcome.status != "solved":
            return None
        move, reached = self.program.moves[index][0][1], offset + direction * outcome.objective
        if isinstance(move, MarginMove):
            reached = move.measure.unscaled(reached)
        further = max(direction * (reached - bound), 0.0)
        return rounded(bound + direction * further, direction, self.grid(index))

    def _forms(self, index: int) -> tuple[Floats, Floats | None, float]:
        """Return numerator and denominator over all columns, and the offset, of what is bounded."""
        move = self.program.moves[index][0][1]
        top = np.zeros(self.program.form.columns)
        if isinstance(move, CountMove):
            np.add.at(top, move.indices, move.values)
            return top, None, 0.0
        if isinstance(move, MarginMove):
            content = move.row(bound=1.0)
            top[content.indices] = content.values
            return top, None, 0.0
        if not isinstance(move, MeasureMove):
            raise TypeError(f"no single form bounds {self.program.requirements[index].title}")
        top[: self.program.size] = move.measure.numerator
        if move.measure.denominator is None:
            return top, None, move.measure.offset
        base = np.zeros(self.program.form.columns)
        base[: self.program.size] = move.measure.denominator
        return top, base, move.measure.offset

    def _last(self, index: int, direction: int, start: int) -> int:
        """Return how many places there are to the edge of the measure's range."""
        measure = _measure(self.program.moves[index])
        low, high = (0.0, math.inf) if measure is None else (measure.lowest, measure.highest)
        edge = high if direction > 0 else low
        if not math.isfinite(edge):
            return FURTHEST
        return max(abs(round(edge / self.grid(index)) - start), 0)


def place_of(requirement: Requirement) -> float:
    """Return the unit of the last printed place of a bound: 1 for counts, and for bounds of four figures."""
    return 1.0 if requirement.choice or abs(requirement.bound or 0.0) >= 1000.0 else GRID


def rounded(value: float, direction: int, grid: float = GRID) -> float:
    """Round to the grid, towards the looser side: up for direction 1, down for -1."""
    steps = value / grid
    near = NEARLY_HALF / grid
    return (math.ceil(steps - near) if direction > 0 else math.floor(steps + near)) * grid


def _measure(moves: tuple[tuple[int, Move], ...]) -> Measure | None:
    move = moves[0][1]
    return move.measure if isinstance(move, MeasureMove | MarginMove) else None
