"""How far one requirement must give way, all others held: exact, and rounded to the side that works."""

from __future__ import annotations

import math
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers import cases
from optiform.answers.rank import best
from optiform.measures.acidity import Acidity
from optiform.program.moves import CountMove, MeasureMove

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from optiform.library.arrays import Floats
    from optiform.measures import Measure
    from optiform.program import Move, Program
    from optiform.solver import Outcome, Session

GRID = 0.01
NEAR = 4e-7
"""A bound met within this is met: a little less than what rows are relaxed by."""

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
        bound = self.program.requirements[index].bound or 0.0
        start = here = round(rounded(bound, direction, grid) / grid)
        search = self._optimum if self.simple(index) else self._searched
        for relaxed in (True, False):
            place = search(index, direction, here, relaxed=relaxed)
            if place is None or not self._within(index, place * grid):
                return None
            if relaxed and place == start and abs(start * grid - bound) < NEAR:
                continue
            if not relaxed or self._works(index, place, relaxed=False):
                return round(place * grid, 2)
            here = place + direction
        return None

    def best_at(self, index: int, bound: float) -> Outcome:
        """Solve for the aim with a requirement at another bound."""
        return self.best_within({index: bound})

    def best_within(self, bounds: Mapping[int, float]) -> Outcome:
        """Solve for the aim with requirements at other bounds."""
        with self.within(bounds) as session:
            return cases.optimum(session, self.program, self.program.form.objective, self.program.ratio_aim)

    def found_within(self, bounds: Mapping[int, float]) -> Outcome:
        """Find any formula with requirements at other bounds, or prove that there is none."""
        with self.within(bounds) as session:
            return cases.witness(session, self.program)

    def mixable_within(self, bounds: Mapping[int, float]) -> bool:
        """Tell whether any mixture is possible with requirements at other bounds and all choices relaxed."""
        with self.within(bounds) as session:
            return cases.mixable(session, self.program)

    def grid(self, index: int) -> float:
        """Return the unit of the last printed place of a bound."""
        return 1.0 if self.program.requirements[index].choice else GRID

    def _within(self, index: int, bound: float) -> bool:
        measure = _measure(self.program.moves[index])
        low, high = (0.0, math.inf) if measure is None else (measure.lowest, measure.highest)
        return low - NEAR <= bound <= high + NEAR

    def simple(self, index: int) -> bool:
        """Tell whether one linear or ratio form carries the bound, so that it can be the objective."""
        moves = [move for _, move in self.program.moves[index]]
        if len(moves) == 1 and isinstance(moves[0], CountMove):
            return True
        measures = {id(move.measure) for move in moves if isinstance(move, MeasureMove)}
        acid = any(isinstance(move, MeasureMove) and isinstance(move.measure, Acidity) for move in moves)
        return len(measures) == 1 and all(isinstance(move, MeasureMove) for move in moves) and not acid

    def _optimum(self, index: int, direction: int, here: int, *, relaxed: bool) -> int | None:
        """Return the nearest place on the grid from the extreme of the measure itself."""
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
                outcome = cases.optimum(session, self.program, direction * top, base)
        if outcome.values is None or outcome.status != "solved":
            return None
        value = offset + direction * outcome.objective
        further = max(direction * (value - bound), 0.0)
        place = round(rounded(bound + direction * further, direction, self.grid(index)) / self.grid(index))
        return max(place, here) if direction > 0 else min(place, here)

    def _forms(self, index: int) -> tuple[Floats, Floats | None, float]:
        """Return numerator and denominator over all columns, and the offset, of what is bounded."""
        move = self.program.moves[index][0][1]
        top = np.zeros(self.program.form.columns)
        if isinstance(move, CountMove):
            np.add.at(top, move.indices, move.values)
            return top, None, 0.0
        if not isinstance(move, MeasureMove):
            raise TypeError(f"no single form bounds {self.program.requirements[index].title}")
        top[: self.program.size] = move.measure.numerator
        if move.measure.denominator is None:
            return top, None, move.measure.offset
        base = np.zeros(self.program.form.columns)
        base[: self.program.size] = move.measure.denominator
        return top, base, move.measure.offset

    def _searched(self, index: int, direction: int, here: int, *, relaxed: bool) -> int | None:
        """Return the nearest place on the grid by doubling and halving; what works stays so further out."""
        stride, bad = 1, None
        while not self._works(index, here + direction * (stride - 1), relaxed=relaxed):
            bad, stride = here + direction * (stride - 1), stride * 2
            if not self._within(index, (here + direction * (stride - 1)) * self.grid(index)):
                stride = self._last(index, direction, here)
                if not self._works(index, here + direction * (stride - 1), relaxed=relaxed):
                    return None
                break
        good = here + direction * (stride - 1)
        while bad is not None and abs(good - bad) > 1:
            middle = (good + bad) // 2
            if self._works(index, middle, relaxed=relaxed):
                good = middle
            else:
                bad = middle
        return good

    def _last(self, index: int, direction: int, here: int) -> int:
        """Return the stride that ends at the edge of the measure's range."""
        measure = _measure(self.program.moves[index])
        low, high = (0.0, math.inf) if measure is None else (measure.lowest, measure.highest)
        edge = high if direction > 0 else low
        if not math.isfinite(edge):
            return FURTHEST
        return abs(round(edge / self.grid(index)) - here) + 1

    def _works(self, index: int, place: int, *, relaxed: bool) -> bool:
        bounds = {index: place * self.grid(index)}
        return self.mixable_within(bounds) if relaxed else self.found_within(bounds).status != "infeasible"


def rounded(value: float, direction: int, grid: float = GRID) -> float:
    """Round to the grid, towards the looser side: up for direction 1, down for -1."""
    steps = value / grid
    near = NEAR / grid
    return (math.ceil(steps - near) if direction > 0 else math.floor(steps + near)) * grid


def _measure(moves: tuple[tuple[int, Move], ...]) -> Measure | None:
    move = moves[0][1]
    return move.measure if isinstance(move, MeasureMove) else None
