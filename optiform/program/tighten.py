"""The same formulas in a program whose continuous relaxation lies closer to them.

Every row and every use level that is added or moved here follows from the others as soon as choices
are whole, so no formula is lost and none is won; a search sees earlier where it cannot win. It holds
for a program as it stands: where a requirement is let go or moved, start again from the program.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.extended import extended
from optiform.program.program import SparseRow

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.library.arrays import Floats
    from optiform.program.program import Form, Indices, Program

SLIVER = 1e-9


def tightened(program: Program) -> Program:
    """Return the program with tighter use levels, and with rows that say what must be used at all.

    Notes
    -----
    Three things follow. A total that may be at most so much bounds every amount in it. Where a
    total must be at least so much, one of its materials is used. Where of those only one may be
    used, that one brings all of it.
    """
    form, size = program.form, program.size
    if not program.moves.levels:
        return program
    most = form.upper[:size].copy()
    for indices, values, upper in _totals(form, size):
        np.minimum.at(most, indices, upper / values)
    least = np.zeros(size)
    covers: list[SparseRow] = []
    single = _at_most_one(program)
    for indices, values, lower in _demands(form, size):
        choices = program.own_choice[indices]
        if np.any(choices < 0):
            continue
        covers.append(SparseRow(np.sort(choices), np.ones(len(choices)), 1.0, np.inf))
        if any(members.issuperset(choices.tolist()) for members in single.get(int(choices[0]), ())):
            np.maximum.at(least, indices, lower / values)
    leveled = _leveled(program, least, most)
    rows = list({row.indices.tobytes(): row for row in covers}.values())
    balance = program.index_of["balance"]
    return replace(
        program,
        form=extended(leveled, [], rows) if rows else leveled,
        row_requirement=np.concatenate([program.row_requirement, np.full(len(rows), balance, dtype=np.intp)]),
    )


def _totals(form: Form, size: int) -> Iterator[tuple[Indices, Floats, float]]:
    """Yield what may be at most so much: amounts, their weights (all above 0), and the bound."""
    for row, sign in _of_amounts(form, size):
        indices, values = _content(form, row, sign)
        bound = form.row_upper[row] if sign > 0 else -form.row_lower[row]
        if np.isfinite(bound) and bound >= 0 and np.all(values > 0):
            yield indices, values, float(bound)


def _demands(form: Form, size: int) -> Iterator[tuple[Indices, Floats, float]]:
    """Yield what must be at least so much: the amounts that bring it, their weights, and the bound above 0."""
    for row, sign in _of_amounts(form, size):
        indices, values = _content(form, row, sign)
        bound = form.row_lower[row] if sign > 0 else -form.row_upper[row]
        if np.isfinite(bound) and bound > SLIVER and np.any(values > 0):
            yield indices[values > 0], values[values > 0], float(bound)


def _of_amounts(form: Form, size: int) -> Iterator[tuple[int, float]]:
    """Yield the rows over amounts alone, as they stand and with the other sign."""
    choices = np.bincount(form.owner, weights=form.indices >= size, minlength=form.rows)
    for row in np.flatnonzero((choices == 0) & (np.diff(form.starts) > 0)).tolist():
        yield row, 1.0
        yield row, -1.0


def _content(form: Form, row: int, sign: float) -> tuple[Indices, Floats]:
    span = slice(form.starts[row], form.starts[row + 1])
    held = form.values[span] != 0
    return form.indices[span][held], sign * form.values[span][held]


def _at_most_one(program: Program) -> dict[int, list[set[int]]]:
    """Return the sets of choices of which one at most is taken, by each of their members."""
    form = program.form
    odd = (form.values != 1) | (form.indices < program.size)
    counts = np.bincount(form.owner, weights=odd, minlength=form.rows)
    several = np.diff(form.starts) > 1
    found: dict[int, list[set[int]]] = {}
    for row in np.flatnonzero((counts == 0) & several & (form.row_upper == 1)).tolist():
        members = set(form.indices[form.starts[row] : form.starts[row + 1]].tolist())
        for choice in members:
            found.setdefault(choice, []).append(members)
    return found


def _leveled(program: Program, least: Floats, most: Floats) -> Form:
    """Return the form with use levels that are nowhere wider than asked; a material without any level left is out."""
    form = program.form
    values, upper = form.values.copy(), form.upper.copy()
    for block in program.moves.levels:
        place = form.starts[block.first_row + 2 * np.arange(len(block.materials))] + 1
        low = np.maximum(-values[place], least[block.materials])
        high = np.minimum(-values[place + 2], most[block.materials])
        out = low > high + SLIVER
        values[place] = np.where(out, values[place], -low)
        values[place + 2] = np.where(out, values[place + 2], -high)
        upper[block.materials] = np.where(out, 0.0, np.minimum(upper[block.materials], high))
        upper[block.choices[out]] = 0.0
    return replace(form, values=values, upper=upper)
