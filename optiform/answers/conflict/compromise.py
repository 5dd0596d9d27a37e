"""Finds a compromise between colliding limits in which none gives more than is needed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optiform.answers.describe.sensible_steps import step
from optiform.answers.model.answer import Relaxation
from optiform.program import Program
from optiform.program.rows.moves import MarginMove, MeasureMove
from optiform.search.relaxation import Mover, place_of, rounded
from optiform.search.smallest_integer import least

PART, NEAR = 0.01, 0.03
"""The number of steps is found to this part of one step, or of itself where it is large."""

MOST = 2.0**20


def joint(mover: Mover, movable: Sequence[int]) -> dict[int, Relaxation]:
    """Return relaxations that make the brief possible together, by requirement; none where nothing does.

    Parameters
    ----------
    movable : sequence of int
        Requirements of the program that may give.

    Notes
    -----
    The weights are the sensible steps of `optiform.answers.describe.sensible_steps`. All limits give way side by
    side, by the least number of steps at which any formula is possible; those whose giving is of no use stay where they
    were. Then each takes back, to the last printed place, what no formula needs as the others stand, whatever
    its choices: first the one that could take back the most steps by itself. So none can take anything back
    any more. What one limit would have to give by itself stands among the single changes.
    """
    indices = [index for index in movable if mover.program.requirements[index].side != "equal"]
    if len(indices) < 2:
        return {}
    fewest = least(mover, lambda number: _bounds(mover, indices, PART * number), round(MOST / PART), NEAR)
    if fewest is None:
        return {}
    number, _ = fewest
    allowed = _bounds(mover, indices, PART * number)
    for index in indices:
        others = {other: bound for other, bound in allowed.items() if other != index}
        if mover.found_within(others).values is not None:
            allowed = others
    allowed = _taken_back(mover, allowed)
    if len(allowed) < 2 or any(_void(mover.program, index, to) for index, to in allowed.items()):
        return {}
    return {index: _relaxation(mover.program, index, to) for index, to in allowed.items()}


def _taken_back(mover: Mover, allowed: dict[int, float]) -> dict[int, float]:
    """Return the bounds with what no formula needs taken back, one after the other; those taken back whole are gone."""
    known: dict[tuple[tuple[int, float], ...], float] = {}

    def nearest(bounds: dict[int, float], index: int) -> float:
        key = ((index, bounds[index]), *sorted(bounds.items()))
        if key not in known:
            known[key] = _nearest(mover, bounds, index)
        return known[key]

    def saved(index: int) -> float:
        requirement = mover.program.requirements[index]
        return abs(allowed[index] - nearest(allowed, index)) / step(requirement)

    tight = dict(allowed)
    for index in sorted(allowed, key=saved, reverse=True):
        if (
            saved(index) > 0.0
        ):  # what has nothing to take back now has nothing once others have taken back theirs
            tight[index] = nearest(tight, index)
    return {index: to for index, to in tight.items() if to != mover.program.requirements[index].bound}


def _nearest(mover: Mover, bounds: dict[int, float], index: int) -> float:
    """Return the bound nearest to its own at which one limit works while the others stand at theirs."""
    others = {other: bound for other, bound in bounds.items() if other != index}
    with mover.within(others):
        nearest = mover.reach(index, *mover.directions(index))
    return bounds[index] if nearest is None else nearest


def _bounds(mover: Mover, indices: Sequence[int], steps: float) -> dict[int, float]:
    """Return the bounds so many steps looser, inside each measure's range."""
    bounds, program = {}, mover.program
    for index in indices:
        requirement = program.requirements[index]
        [direction] = mover.directions(index)
        moved = (requirement.bound or 0.0) + direction * steps * step(requirement)
        low, high = _end(program, index, -1), _end(program, index, 1)
        bounds[index] = min(max(round(rounded(moved, direction, place_of(requirement)), 2), low), high)
    return bounds


def _end(program: Program, index: int, direction: int) -> float:
    """Return the lowest or highest bound that a requirement's measure can have."""
    move = program.moves[index][0][1]
    if not isinstance(move, MeasureMove | MarginMove):
        return direction * math.inf
    return move.measure.lowest if direction < 0 else move.measure.highest


def _void(program: Program, index: int, to: float) -> bool:
    """Tell whether a limit that gave so much asks for nothing any more: that is no compromise."""
    return to <= _end(program, index, -1) or to >= _end(program, index, 1)


def _relaxation(program: Program, index: int, to: float) -> Relaxation:
    requirement = program.requirements[index]
    return Relaxation(requirement, to, abs(to - (requirement.bound or 0.0)))
