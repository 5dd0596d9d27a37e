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
    from collections.abc import Mapping, Sequence

    from optiform.answers.moving import Mover
    from optiform.program import Program
    from optiform.solver import Outcome

PART, NEAR = 0.01, 0.03
"""The number of steps is found to this part of one step, or of itself where it is large."""

MOST = 2.0**20


def joint(mover: Mover, movable: Sequence[int]) -> tuple[tuple[Relaxation, ...], Outcome] | None:
    """Return relaxations that make the brief possible together, and the best formula under them.

    Parameters
    ----------
    mover : Mover
    movable : sequence of int
        Requirements of the program that may give.

    Notes
    -----
    The weights are the sensible steps of `optiform.answers.steps`. All limits give way side by side,
    those whose giving is of no use stay; what the best formula then does not need is taken back,
    every bound is rounded to the side that works, and the whole is solved again as it is printed.
    What one limit would have to give by itself stands among the single changes.
    """
    indices = [index for index in movable if mover.program.requirements[index].side != "equal"]
    if len(indices) < 2:
        return None
    steps = _fewest(mover, indices)
    if steps is None:
        return None
    allowed = _bounds(mover.program, indices, steps)
    for index in indices:
        others = {other: bound for other, bound in allowed.items() if other != index}
        if _possible(mover, others, relaxed=False):
            allowed = others
    first = _best(mover, allowed)
    if first.values is None or len(allowed) < 2:
        return None
    bounds = _needed(mover.program, first, allowed)
    outcome = _best(mover, bounds)
    if outcome.values is None or any(_void(mover.program, index, to) for index, to in bounds.items()):
        return None
    return tuple(_relaxation(mover.program, index, to) for index, to in bounds.items()), outcome


def _fewest(mover: Mover, indices: Sequence[int]) -> float | None:
    """Return the fewest steps that work, the relaxed mixture first, which is fast and never asks for more."""
    low = 0.0
    for relaxed in (True, False):
        high = max(low, PART)
        while not _works(mover, indices, high, relaxed=relaxed):
            low, high = high, 2.0 * high
            if high > MOST:
                return None
        while high - low > max(PART, NEAR * high) + TOLERANCE:
            middle = PART * round(0.5 * (low + high) / PART)
            if _works(mover, indices, middle, relaxed=relaxed):
                high = middle
            else:
                low = middle
        low = high
        if relaxed and _works(mover, indices, high, relaxed=False):
            return high
    return low


def _works(mover: Mover, indices: Sequence[int], steps: float, *, relaxed: bool) -> bool:
    return _possible(mover, _bounds(mover.program, indices, steps), relaxed=relaxed)


def _possible(mover: Mover, bounds: Mapping[int, float], *, relaxed: bool) -> bool:
    with mover.session.trial() as session:
        for index, bound in bounds.items():
            for row, move in mover.program.moves[index]:
                session.set_row(row, move.row(bound))
        if relaxed:
            return cases.mixable(session, mover.program)
        return cases.witness(session, mover.program).status != "infeasible"


def _bounds(program: Program, indices: Sequence[int], steps: float) -> dict[int, float]:
    """Return the bounds so many steps looser, inside each measure's range."""
    bounds = {}
    for index in indices:
        requirement = program.requirements[index]
        direction = -1 if requirement.side == "at_least" else 1
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


def _best(mover: Mover, bounds: Mapping[int, float]) -> Outcome:
    with mover.session.trial() as session:
        for index, bound in bounds.items():
            for row, move in mover.program.moves[index]:
                session.set_row(row, move.row(bound))
        return cases.optimum(session, mover.program, mover.program.form.objective, mover.program.ratio_aim)


def _needed(program: Program, outcome: Outcome, bounds: Mapping[int, float]) -> dict[int, float]:
    """Return the bounds that a formula needs: its own values, no looser than allowed; the others left out."""
    needed = {}
    for index, allowed in bounds.items():
        requirement = program.requirements[index]
        bound, direction = requirement.bound or 0.0, -1 if requirement.side == "at_least" else 1
        found = _values(program, index, outcome)
        worst = bound if not found else max(found) if direction > 0 else min(found)
        if direction * (worst - bound) <= 2 * TOLERANCE:
            continue
        tight = round(rounded(worst, direction), 2)
        needed[index] = min(tight, allowed) if direction > 0 else max(tight, allowed)
    return needed


def _values(program: Program, index: int, outcome: Outcome) -> list[float]:
    """Return what a formula comes to in each row of a requirement; pH by its rows only, as none."""
    if outcome.values is None:
        return []
    amounts = outcome.values[: program.size]
    found = []
    for _, move in program.moves[index]:
        value = move.measure.value(amounts) if isinstance(move, MeasureMove) else None
        if value is not None:
            found.append(value)
    return found


def _relaxation(program: Program, index: int, to: float) -> Relaxation:
    requirement = program.requirements[index]
    return Relaxation(requirement, to, abs(to - (requirement.bound or 0.0)))
