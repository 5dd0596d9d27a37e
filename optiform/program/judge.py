"""Holding a formula against a program: the columns that follow from its amounts, and every row it breaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.preferences import filled
from optiform.program.program import TOLERANCE, USED

if TYPE_CHECKING:
    from optiform.library.arrays import Floats
    from optiform.program.program import Indices, Program
    from optiform.program.requirement import Requirement

SLIVER = 1e-9


@dataclass(frozen=True)
class Break:
    """A requirement that a formula does not meet, and by how much its worst row is off (row units)."""

    requirement: Requirement
    by: float


def complete(program: Program, amounts: Floats) -> Floats:
    """Return the column values that belong to the amounts of a formula.

    A material counts as used above 0; the preservative system is the one whose members and
    windows the formula meets best, or none.

    Parameters
    ----------
    program : Program
    amounts : ndarray, shape (n,)  [% w/w]

    Returns
    -------
    ndarray, shape (columns,)
    """
    values = np.zeros(program.form.columns)
    values[: program.size] = amounts
    system = _system(program, amounts)
    if system is not None:
        values[program.systems[system]] = 1.0
    own = program.own_choice
    values[own[own >= 0]] = amounts[own >= 0] > 0
    for helper, members in program.groups:
        values[helper] = values[members].max()
    return filled(program, values)


def _system(program: Program, amounts: Floats) -> str | None:
    """Return the preservative system whose members are all there and whose windows are met best."""
    index = program.library.arrays.material_index
    best: tuple[float, str] | None = None
    for system in program.library.systems:
        if system.name not in program.systems:
            continue
        held = {member: float(amounts[index[member]]) for member in system.members}
        if any(held[member] <= 0 < low for member, (low, _) in system.members.items()) or not any(
            held.values()
        ):
            continue
        off = sum(
            max(low - held[m], 0.0) + max(held[m] - high, 0.0) for m, (low, high) in system.members.items()
        )
        strangers = sum(
            float(amounts[index[member]])
            for other in program.library.systems
            for member in other.members
            if member not in system.members
        )
        if best is None or (off + strangers, system.name) < best:
            best = (off + strangers, system.name)
    return None if best is None else best[1]


def breaks(program: Program, values: Floats) -> tuple[Break, ...]:
    """Return every requirement that column values do not meet, recomputed from our own arrays.

    A bound counts as met within `TOLERANCE` of the requirement's own unit; its row was relaxed by
    half of that, so the other half is left here, in row units.

    Parameters
    ----------
    program : Program
    values : ndarray, shape (columns,)
    """
    form = program.form
    activity = form.activity(values)
    over = np.maximum(form.row_lower - activity, activity - form.row_upper)
    allowed = _allowed(program, values, np.flatnonzero(over > SLIVER))
    worst: dict[int, float] = {}
    for row in np.flatnonzero(over > allowed):
        requirement = int(program.row_requirement[row])
        worst[requirement] = max(worst.get(requirement, 0.0), float(over[row]))
    return tuple(Break(program.requirements[key], by) for key, by in sorted(worst.items()))


def _allowed(program: Program, values: Floats, rows: Indices) -> Floats:
    """Return how far each row may be off: half the tolerance in the measure's unit, or a sliver; exact for `rows`."""
    allowed = np.full(program.form.rows, 0.5 * TOLERANCE)
    for requirement in np.unique(program.row_requirement[rows]).tolist():
        bound = program.requirements[requirement].bound
        if bound is None or requirement not in program.moves:
            continue
        for row, move in program.moves[requirement]:
            allowed[row] = max(0.5 * TOLERANCE * move.scale(values[: program.size], bound), SLIVER)
    allowed[program.row_requirement == program.index_of["balance"]] = SLIVER
    return allowed


def used(program: Program, values: Floats) -> tuple[int, ...]:
    """Return the positions of the materials that a solution holds in an amount that counts."""
    return tuple(int(i) for i in np.flatnonzero(values[: program.size] >= 0.5 * USED))
