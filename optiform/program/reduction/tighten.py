"""Tightens a program: the same formulas, and a continuous relaxation that lies closer to them.

Every row and every use level that is added or moved here follows from the others as soon as choices
are whole, so no formula is lost and none is won; a search sees earlier where it cannot win.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optiform.program.extended import extended
from optiform.program.program import Form, Program, SparseRow
from optiform.program.requirement import Key
from optiform.tolerances import ROUNDING
from optiform.vectors import Flags, Floats, Indices, among


def tightened(program: Program) -> Program:
    """Return the program with tighter use levels, and with rows that say what must be used at all.

    Notes
    -----
    Three things follow. A total that may be at most so much bounds every amount in it. A total that must be at
    least so much needs as many materials as it takes of those that can bring the most. Where of those only one may
    be used, that one brings all of it.
    """
    form, size = program.form, program.size
    if not program.moves.levels:
        return program
    most = np.minimum(form.upper[:size], caps(form, size))
    least = np.zeros(size)
    single = _at_most_one(form, size)
    rows: dict[bytes, SparseRow] = {}
    for indices, values, lower in _demands(form, size):
        choices = program.own_choice[indices]
        if np.any(choices < 0):
            continue
        if _within_one(form, single, choices):
            np.maximum.at(least, indices, lower / values)
        row = SparseRow(
            np.sort(choices), np.ones(len(choices)), _fewest(values * most[indices], lower), np.inf
        )
        known = rows.setdefault(row.indices.tobytes(), row)
        if known.lower < row.lower:
            rows[row.indices.tobytes()] = row
    balance = np.full(len(rows), program.index_of[Key("balance")], dtype=np.intp)
    return replace(
        program,
        form=extended(_leveled(program, least, most), [], list(rows.values())),
        row_requirement=np.concatenate([program.row_requirement, balance]),
    )


def _demands(form: Form, size: int) -> Iterator[tuple[Indices, Floats, float]]:
    """Yield what must be at least so much: the amounts that bring it, their weights, and the bound above 0."""
    amounts = _of_amounts(form, size)
    for sign, bounds in ((1.0, form.row_lower), (-1.0, -form.row_upper)):
        for row in np.flatnonzero(amounts & np.isfinite(bounds) & (bounds > ROUNDING)).tolist():
            span = slice(form.starts[row], form.starts[row + 1])
            indices, values = form.indices[span], sign * form.values[span]
            if np.any(values > 0):
                yield indices[values > 0], values[values > 0], float(bounds[row])


def _fewest(parts: Floats, whole: float) -> float:
    """Return of how many parts, the largest first, it takes to make up a whole; one more than all where none do."""
    reached = np.cumsum(np.sort(parts)[::-1])
    return float(np.searchsorted(reached, whole - ROUNDING)) + 1.0


def _of_amounts(form: Form, size: int) -> Flags:
    """Flag the rows in which only amounts stand, shape (rows,)."""
    choices = np.bincount(form.owner, weights=form.indices >= size, minlength=form.rows)
    return np.asarray((choices == 0) & (np.diff(form.starts) > 0), dtype=bool)


def caps(form: Form, size: int) -> Floats:
    """Return the most that each amount can be by the totals that may be at most so much, shape (n,)  [% w/w].

    The same holds for what two amounts come to together where they weigh the same in every total.
    """
    most = np.full(size, np.inf)
    inside = _of_amounts(form, size)[form.owner] & (form.values != 0)
    owner, indices, values = form.owner[inside], form.indices[inside], form.values[inside]
    for sign, bounds in ((1.0, form.row_upper), (-1.0, -form.row_lower)):
        mixed = np.bincount(owner, weights=sign * values < 0, minlength=form.rows) > 0
        capping = (np.isfinite(bounds) & (bounds >= 0) & ~mixed)[owner]
        np.minimum.at(most, indices[capping], bounds[owner][capping] / (sign * values[capping]))
    return most


def _at_most_one(form: Form, size: int) -> Flags:
    """Flag the rows that let one at most of some choices be taken, shape (rows,)."""
    odd = np.bincount(form.owner, weights=(form.values != 1) | (form.indices < size), minlength=form.rows)
    return np.asarray((odd == 0) & (form.row_upper == 1), dtype=bool)


def _within_one(form: Form, single: Flags, choices: Indices) -> bool:
    """Tell whether a row lets one at most of these choices be taken."""
    wide = single & (np.diff(form.starts) >= len(choices))
    rows = form.owner[form.indices == choices[0]]
    return any(
        among(choices, form.indices[form.starts[row] : form.starts[row + 1]]).all()
        for row in rows[wide[rows]]
    )


def capped(program: Program, most: Floats) -> Program:
    """Return the program with no use level above what is given for each material, shape (n,)  [% w/w]."""
    return replace(program, form=_leveled(program, np.zeros(program.size), most))


def _leveled(program: Program, least: Floats, most: Floats) -> Form:
    """Return the form with use levels that are nowhere wider than asked; a material without any level left is out."""
    form = program.form
    values, upper = form.values.copy(), form.upper.copy()
    for block in program.moves.levels:
        place = form.starts[block.first_row + 2 * np.arange(len(block.materials))] + 1
        low = np.maximum(-values[place], least[block.materials])
        high = np.minimum(-values[place + 2], most[block.materials])
        out = low > high + ROUNDING
        values[place] = np.where(out, values[place], -low)
        values[place + 2] = np.where(out, values[place + 2], -high)
        upper[block.materials] = np.where(out, 0.0, np.minimum(upper[block.materials], high))
        upper[block.choices[out]] = 0.0
    return replace(form, values=values, upper=upper)
