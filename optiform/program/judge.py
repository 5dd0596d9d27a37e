"""Holds a formula against a program: the columns that follow from its amounts, and every row it breaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optiform.library.preserving import system_in
from optiform.program.program import USED, Program, UpperEnds
from optiform.program.requirement import Key, Requirement
from optiform.program.rows.moves import ChargeMove, MarginMove
from optiform.program.rows.preferences import filled
from optiform.tolerances import CONE, HALF, ROUNDING
from optiform.vectors import Floats, Indices, distinct


@dataclass(frozen=True)
class Break:
    """A requirement that a formula does not meet, by how much its worst row is off (row units), and that row."""

    requirement: Requirement
    by: float
    row: int | None = None


def complete(program: Program, amounts: Floats) -> Floats:
    """Return the column values that belong to the amounts of a formula.

    A material counts as used above 0; the preservative system is the one whose members and
    windows the formula meets best, or none.

    `amounts` has shape (n,)  [% w/w].

    Returns
    -------
    ndarray, shape (columns,)
    """
    values = np.zeros(program.form.columns)
    values[: program.size] = amounts
    system = system_in(program.library, amounts)
    if system is not None:
        values[program.systems[system.name]] = 1.0
    own = program.own_choice
    values[own[own >= 0]] = amounts[own >= 0] > 0
    return followed(program, values)


def followed(program: Program, values: Floats) -> Floats:
    """Return column values with those that follow from amounts and choices filled in, in place."""
    for choice in program.upper_ends:
        values[choice.columns] = 0.0
        if values[choice.system] > 0.5:
            values[_upper_end(program, choice, values)] = 1.0
    for helper in program.helpers:
        values[helper.column] = helper.value(values)
    return filled(program, values)


def _upper_end(program: Program, choice: UpperEnds, values: Floats) -> int:
    """Return the column of the highest end up to which the uncharged acid of a formula is enough.

    Where it is nowhere enough, it is the lowest end that the pH keeps.
    """
    kept = [place for place in range(len(choice.columns)) if choice.keeps(place, values)]
    enough = (place for place in kept if _enough(program, int(choice.columns[place]), values))
    return int(choice.columns[next(enough, max(kept, default=0))])


def _enough(program: Program, column: int, values: Floats) -> bool:
    """Tell whether a formula holds the uncharged acid that is asked for while one upper end is chosen."""
    return all(
        float(acid.move.measure.numerator @ values[: program.size]) >= acid.bound - HALF
        for acid in program.acid_rows
        if acid.side == "at_least" and any(column in choices for _, choices in acid.asked)
    )


def breaks(program: Program, values: Floats, rounding: Floats | None = None) -> tuple[Break, ...]:
    """Return every requirement that column values do not meet, recomputed from our own arrays.

    A bound counts as met within `TOLERANCE` of the requirement's own unit; its row was relaxed by
    half of that, so the other half is left here, in row units.

    Parameters
    ----------
    values : ndarray, shape (columns,)
    rounding : ndarray, shape (n,), optional  [% w/w]
        How far each amount may be from the one that was meant; what that explains is no break, but
        for the law and the total, which the amounts have to hold as they are.
    """
    form = program.form
    activity = form.activity(values)
    over = np.maximum(form.row_lower - activity, activity - form.row_upper)
    allowed = _allowed(program, values, np.flatnonzero(over > ROUNDING))
    if rounding is not None:
        spread = np.concatenate((rounding, np.zeros(form.columns - program.size)))
        explained = np.bincount(form.owner, np.abs(form.values) * spread[form.indices], minlength=form.rows)
        strict = [requirement.origin in ("law", "balance") for requirement in program.requirements]
        explained[np.asarray(strict, dtype=bool)[program.row_requirement]] = 0.0
        allowed = allowed + explained * (1.0 + ROUNDING)
    worst: dict[int, Break] = {}
    for row in np.flatnonzero(over > allowed).tolist():
        key, by = int(program.row_requirement[row]), float(over[row])
        if key not in worst or by > worst[key].by:
            worst[key] = Break(program.requirements[key], by, row)
    return tuple(worst[key] for key in sorted(worst))


def _allowed(program: Program, values: Floats, rows: Indices) -> Floats:
    """Return how far each row may be off: half the tolerance in the measure's unit, or a sliver; exact for `rows`."""
    allowed = np.full(program.form.rows, HALF)
    for requirement in distinct(program.row_requirement[rows]).tolist():
        bound = program.requirements[requirement].bound
        if bound is None or requirement not in program.moves:
            continue
        for row, move in program.moves[requirement]:
            if isinstance(move, MarginMove):
                continue
            least = 2.0 * CONE if isinstance(move, ChargeMove) else ROUNDING
            allowed[row] = max(HALF * move.scale(values[: program.size], bound), least)
    allowed[program.row_requirement == program.index_of[Key("balance")]] = ROUNDING
    return allowed


def used(program: Program, values: Floats) -> tuple[int, ...]:
    """Return the positions of the materials that a solution holds in an amount that counts."""
    return tuple(int(i) for i in np.flatnonzero(values[: program.size] >= 0.5 * USED))
