"""A joint compromise: every colliding limit gives the same number of its sensible steps, as few as possible."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.answers import cases
from optiform.answers.answer import Relaxation
from optiform.answers.least import least
from optiform.answers.moving import rounded
from optiform.answers.steps import step
from optiform.program.moves import MeasureMove

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.moving import Mover
    from optiform.program import Program
    from optiform.solver import Outcome

PART, NEAR = 0.01, 0.03
"""The number of steps is found to this part of one step, or of itself where it is large."""

MOST = 2.0**20


def joint(mover: Mover, movable: Sequence[int]) -> dict[int, Relaxation]:
    """Return relaxations that make the brief possible together, by requirement; none where nothing does.

    Parameters
    ----------
    mover : Mover
    movable : sequence of int
        Requirements of the program that may give.

    Notes
    -----
    The weights are the sensible steps of `optiform.answers.steps`. All limits give way side by side;
    those whose giving is of no use stay, and the others take back in turn, to the last printed place,
    what a formula of the same choices does not need. What one limit would have to give by itself
    stands among the single changes.
    """
    indices = [index for index in movable if mover.program.requirements[index].side != "equal"]
    if len(indices) < 2:
        return {}
    fewest = least(mover, lambda number: _bounds(mover, indices, PART * number), round(MOST / PART), NEAR)
    if fewest is None:
        return {}
    number, formula = fewest
    allowed = _bounds(mover, indices, PART * number)
    for index in indices:
        others = {other: bound for other, bound in allowed.items() if other != index}
        if mover.found_within(others).values is not None:
            allowed = others
    allowed = _taken_back(mover, allowed, formula)
    if len(allowed) < 2 or any(_void(mover.program, index, to) for index, to in allowed.items()):
        return {}
    return {index: _relaxation(mover.program, index, to) for index, to in allowed.items()}


def _taken_back(mover: Mover, allowed: dict[int, float], formula: Outcome) -> dict[int, float]:
    """Return the bounds with what a formula of these choices does not need taken back, one after the other."""
    if formula.values is None:
        return allowed
    tight = dict(allowed)
    with mover.session.trial():
        cases.hold(mover.session, mover.program, formula.values)
        for index in allowed:
            others = {other: bound for other, bound in tight.items() if other != index}
            with mover.within(others):
                nearest = mover.reach(index, *mover.directions(index))
            tight[index] = tight[index] if nearest is None else nearest
    return tight


def _bounds(mover: Mover, indices: Sequence[int], steps: float) -> dict[int, float]:
    """Return the bounds so many steps looser, inside each measure's range."""
    bounds, program = {}, mover.program
    for index in indices:
        requirement = program.requirements[index]
        [direction] = mover.directions(index)
        moved = (requirement.bound or 0.0) + direction * steps * step(requirement)
        low, high = _end(program, index, -1), _end(program, index, 1)
        bounds[index] = min(max(round(rounded(moved, direction), 2), low), high)
    return bounds


def _end(program: Program, index: int, direction: int) -> float:
    """Return the lowest or highest bound that a requirement's measure can have."""
    move = program.moves[index][0][1]
    if not isinstance(move, MeasureMove):
        return direction * math.inf
    return move.measure.lowest if direction < 0 else move.measure.highest


def _void(program: Program, index: int, to: float) -> bool:
    """Tell whether a limit that gave so much asks for nothing any more: that is no compromise."""
    return to <= _end(program, index, -1) or to >= _end(program, index, 1)


def _relaxation(program: Program, index: int, to: float) -> Relaxation:
    requirement = program.requirements[index]
    return Relaxation(requirement, to, abs(to - (requirement.bound or 0.0)))
