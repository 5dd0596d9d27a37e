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
from optiform.program.reduction.covers import covers, demands, of_amounts
from optiform.program.requirement import Key

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.library.arrays import Flags, Floats
    from optiform.program.program import Form, Indices, Program

SLIVER = 1e-9


def tightened(program: Program) -> Program:
    """Return the program with tighter use levels, and with rows that say what must be used at all."""
    form = closer(program, program.form)
    added = form.rows - program.form.rows
    balance = np.full(added, program.index_of[Key("balance")], dtype=np.intp)
    return replace(program, form=form, row_requirement=np.concatenate([program.row_requirement, balance]))


def closer(program: Program, form: Form) -> Form:
    """Return a form of a program, which may hold other bounds and more rows, with tighter use levels and more rows.

    Parameters
    ----------
    form : Form
        The program's own, or one that a session holds for it.

    Notes
    -----
    Four things follow. A total that may be at most so much bounds every amount in it. Of what
    must be there, so many materials are used as `covers` tells. Where of those only one may be
    used, that one brings all of it. And where at most so many materials may be used, those that
    must be used anyway leave so many fewer for what makes formulas different. Where a use level
    is let go, amounts say nothing about choices, and nothing follows.
    """
    size = program.size
    if not program.moves.levels or not _leveled_throughout(program, form):
        return form
    most = np.minimum(form.upper[:size], caps(form, size))
    least = np.zeros(size)
    single = _at_most_one(form, size)
    for indices, values, lower in demands(form, size):
        bringing = program.own_choice[indices]
        if np.all(bringing >= 0) and _within_one(form, single, bringing):
            np.maximum.at(least, indices, lower / values)
    leveled = _leveled(program, form, least, most)
    rows = covers(program, form, most)
    rows += _less_to_count(program, form, rows)
    return extended(leveled, [], rows) if rows else leveled


def _leveled_throughout(program: Program, form: Form) -> bool:
    """Tell whether every use level of a program still holds in a form."""
    return all(
        np.all(np.isfinite(form.row_lower[rows])) and np.all(np.isfinite(form.row_upper[rows + 1]))
        for rows in (block.first_row + 2 * np.arange(len(block.materials)) for block in program.moves.levels)
    )


def _less_to_count(program: Program, form: Form, covers: list[SparseRow]) -> Iterator[SparseRow]:
    """Yield how many of the materials that make formulas different a count leaves room for.

    Each cover is a set of which at least so many materials are used; covers that share none are counted.
    """
    size = program.size
    different = np.zeros(form.columns, dtype=bool)
    different[program.own_choice[program.different]] = True
    other = np.bincount(form.owner, weights=(form.indices < size) | (form.values < 1), minlength=form.rows)
    counting = (other == 0) & np.isfinite(form.row_upper) & (form.row_upper >= 2)
    smallest_first = sorted(
        (row for row in covers if not different[row.indices].any()),
        key=lambda row: len(row.indices) / row.lower,
    )
    for row in np.flatnonzero(counting).tolist():
        weight = np.zeros(form.columns)
        span = slice(form.starts[row], form.starts[row + 1])
        weight[form.indices[span]] = form.values[span]
        room = float(form.row_upper[row])
        for cover in smallest_first:
            least = float(np.sort(weight[cover.indices])[: int(cover.lower)].sum())
            if least >= 1:
                room -= least
                weight[cover.indices] = 0.0
        if room < form.row_upper[row]:
            left = np.flatnonzero(weight)
            yield SparseRow(left, weight[left], -np.inf, room)


def caps(form: Form, size: int) -> Floats:
    """Return the most that each amount can be by the totals that may be at most so much, shape (n,)  [% w/w].

    The same holds for what two amounts come to together where they weigh the same in every total.

    Parameters
    ----------
    size : int
        Number of amounts, the first columns.
    """
    most = np.full(size, np.inf)
    inside = of_amounts(form, size)[form.owner] & (form.values != 0)
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
        np.isin(choices, form.indices[form.starts[row] : form.starts[row + 1]]).all()
        for row in rows[wide[rows]]
    )


def _leveled(program: Program, form: Form, least: Floats, most: Floats) -> Form:
    """Return a form with use levels that are nowhere wider than asked; a material without any level left is out."""
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
