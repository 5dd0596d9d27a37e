"""A joint compromise: every colliding limit gives the same number of its sensible steps, as few as possible."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.answers import cases
from optiform.answers.answer import Relaxation
from optiform.answers.moving import rounded
from optiform.answers.steps import step
from optiform.program import TOLERANCE
from optiform.program.moves import MeasureMove

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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
    then each in turn takes back what is of no use while the others give, to the last printed place
    that works. What one limit would have to give by itself stands among the single changes.
    """
    indices = [index for index in movable if mover.program.requirements[index].side != "equal"]
    if len(indices) < 2:
        return {}
    steps = _fewest(mover, indices)
    if steps is None:
        return {}
    allowed = _bounds(mover.program, indices, steps)
    for index in indices:
        others = {other: bound for other, bound in allowed.items() if other != index}
        if mover.found_within(others).values is not None:
            allowed = others
        elif mover.simple(index):
            with mover.within(others):
                nearest = mover.reach(index, _direction(mover.program, index))
            allowed[index] = allowed[index] if nearest is None else nearest
    if len(allowed) < 2 or any(_void(mover.program, index, to) for index, to in allowed.items()):
        return {}
    return {index: _relaxation(mover.program, index, to) for index, to in allowed.items()}


def _fewest(mover: Mover, indices: Sequence[int]) -> float | None:
    """Return the fewest steps that work, the relaxed mixture first, which is fast and never asks for more.

    A formula that works is followed down to the fewest steps that its own choices need. Then fewer
    are asked for, whatever the choices: a little fewer first, since it may well be the best already,
    then half way.
    """

    def mixable(steps: float) -> bool:
        return mover.mixable_within(_bounds(mover.program, indices, steps))

    def found(steps: float) -> Outcome:
        return mover.found_within(_bounds(mover.program, indices, steps))

    low, trial = 0.0, _threshold(mixable, 0.0)
    if trial is None:
        return None
    formula = found(trial)
    if formula.values is not None:
        return trial
    while formula.values is None:
        low, trial = trial, 2.0 * trial
        if trial > MOST:
            return None
        formula = found(trial)
    high, near = trial, True
    while True:
        if formula.values is not None:
            with mover.session.trial():
                cases.hold(mover.session, mover.program, formula.values)
                high = _threshold(mixable, low, trial) or trial
        else:
            low = trial
        if high - low <= _tolerance(high):
            return high
        trial = PART * round((high - _tolerance(high) if near else 0.5 * (low + high)) / PART)
        formula, near = found(trial), False


def _threshold(works: Callable[[float], bool], low: float, high: float | None = None) -> float | None:
    """Return the fewest steps above `low` that work, `high` being known to; None where nothing does."""
    if high is None:
        high = max(low, PART)
        while not works(high):
            low, high = high, 2.0 * high
            if high > MOST:
                return None
    while high - low > _tolerance(high):
        middle = PART * round(0.5 * (low + high) / PART)
        if works(middle):
            high = middle
        else:
            low = middle
    return high


def _tolerance(steps: float) -> float:
    return max(PART, NEAR * steps) + TOLERANCE


def _bounds(program: Program, indices: Sequence[int], steps: float) -> dict[int, float]:
    """Return the bounds so many steps looser, inside each measure's range."""
    bounds = {}
    for index in indices:
        requirement = program.requirements[index]
        direction = _direction(program, index)
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


def _direction(program: Program, index: int) -> int:
    return -1 if program.requirements[index].side == "at_least" else 1


def _relaxation(program: Program, index: int, to: float) -> Relaxation:
    requirement = program.requirements[index]
    return Relaxation(requirement, to, abs(to - (requirement.bound or 0.0)))
