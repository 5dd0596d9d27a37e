"""Tells what one step of each wish costs or saves when the whole formula may change."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optiform.answers.describe.sensible_steps import step
from optiform.answers.model.answer import Wish
from optiform.brief.models import Brief
from optiform.measures.acidity import Acidity
from optiform.program import Program, at_strength, build
from optiform.program.rows.moves import CountMove, MeasureMove, WhenMove
from optiform.search.fixed_choices import Polished
from optiform.search.ranking import best, within
from optiform.search.relaxation import Mover, rounded
from optiform.solver import Clock, Session
from optiform.tolerances import EQUAL

GRID = 0.01


class StepCosts:
    """Finds what every limit of a brief costs, by solving the brief again one step to each side in a live session.

    Parameters
    ----------
    program : Program
        The brief at the ionic strength of its ranking.
    polished : Polished
        The best formula.
    clock : Clock
        Once its time is over no further wish is told. Its listener hears one short line per limit.

    Notes
    -----
    Unlike a marginal cost the whole formula may change: other surfactants, another thickener,
    another preservative system. Steps are those of `optiform.answers.describe.sensible_steps`.
    """

    def __init__(self, brief: Brief, program: Program, polished: Polished, clock: Clock) -> None:
        self.brief, self.program, self.polished, self.clock = brief, program, polished, clock
        self.plain = Mover(program, Session(program.form, clock=clock))
        self._open: Mover | None = None
        self.here = self.plain.best_within({}).objective

    def wishes(self) -> Iterator[Wish]:
        """Yield one wish per limit of the brief that has a number."""
        for index, requirement in enumerate(self.program.requirements):
            moves = self.program.moves.get(index)
            if requirement.origin != "brief" or requirement.bound is None or moves is None:
                continue
            movable = (
                isinstance(moves[0][1], (MeasureMove, CountMove)) or requirement.key.section == "targets"
            )
            if requirement.side == "equal" or not movable:
                continue
            self.clock.say(f"what it costs: {requirement.title}")
            wish = self._wish(index)
            if self.clock.over():
                return
            yield wish

    def _wish(self, index: int) -> Wish:
        requirement = self.program.requirements[index]
        bound, stride = requirement.bound or 0.0, step(requirement)
        towards = 1.0 if requirement.side == "at_least" else -1.0
        tighter, looser = round(bound + towards * stride, 6), round(bound - towards * stride, 6)
        free = self._free(index)
        mover = self._mover(index)
        cost: float | None = 0.0
        if free is None or towards * (free - tighter) < -EQUAL:
            cost = self._difference(mover, index, tighter)
        saving = self._difference(mover, index, looser)
        return Wish(
            requirement,
            stride,
            tighter,
            looser,
            _settled(cost),
            None if saving is None else _settled(-saving),
            free,
        )

    def _difference(self, mover: Mover, index: int, bound: float) -> float | None:
        """Return by how much the best aim gets worse at another bound; None where nothing is possible."""
        low, high = _range(self.program, index)
        if not low <= bound <= high:
            bound = min(max(bound, low), high)
        there = mover.best_at(index, bound).objective
        return None if math.isinf(there) else there - self.here

    def _mover(self, index: int) -> Mover:
        """Return a mover that holds every pH window where the limit is one of pH."""
        move = self.program.moves[index][0][1]
        if not (isinstance(move, MeasureMove) and isinstance(move.measure, Acidity)):
            return self.plain
        if self._open is None:
            strength = self.program.catalogue.conditions.ionic_strength
            opened = at_strength(build(self.brief, strength, open_pH=True), strength)
            self._open = Mover(opened, Session(opened.form, clock=self.clock))
        return self._open

    def _free(self, index: int) -> float | None:
        """Return how far a limit can be tightened at no cost, the materials of the best formula kept."""
        requirement, reduced = self.program.requirements[index], self.polished.reduced
        moves = self.polished.program.moves[index]
        move = moves[0][1]
        if len(moves) != 1 or not isinstance(move, MeasureMove) or isinstance(move.measure, Acidity):
            return None
        sign = -1.0 if requirement.side == "at_least" else 1.0
        session = Session(reduced.form)
        ceiling = self.polished.objective + 0.1 * EQUAL
        session.add_row(within(reduced.form.objective, reduced.ratio_aim, ceiling))
        outcome = best(session, *reduced.ratio(move.measure, sign))
        if outcome.values is None:
            return None
        reached = move.measure.offset + sign * outcome.objective
        free = round(rounded(reached, -1 if sign < 0 else 1), 2)
        bound = requirement.bound or 0.0
        return free if -sign * (free - bound) >= GRID / 2 else None


def _range(program: Program, index: int) -> tuple[float, float]:
    move = program.moves[index][0][1]
    if isinstance(move, (MeasureMove, WhenMove)):
        return move.measure.lowest, move.measure.highest
    return 0.0, math.inf


def _settled(cost: float | None) -> float | None:
    """Return a cost without the solver's dust."""
    if cost is None:
        return None
    return 0.0 if abs(cost) < EQUAL else cost
