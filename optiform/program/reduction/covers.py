"""How many materials a formula must use at all: what totals and shares ask for before any amount is known."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.program.program import SparseRow
from optiform.program.rows.moves import MeasureMove

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.library.arrays import Flags, Floats
    from optiform.program.program import Form, Indices, Program

SLIVER = 1e-9
WHOLE = 1.0 - 1e-6
"""Parts that add up to this are the whole: a bound is relaxed by half a tolerance, and no material is that little."""


def covers(program: Program, form: Form, most: Floats) -> list[SparseRow]:
    """Return rows that say of how many materials, among some, at least one, two or more are used.

    Parameters
    ----------
    form : Form
        The program's own, or one that a session holds for it.
    most : ndarray, shape (n,)  [% w/w]
        The most that each amount can be.

    Notes
    -----
    A total that must be at least so much needs as many materials as it takes of those that can bring
    the most. A base of which each single part may be at most so much needs as many materials as it
    takes for their greatest parts to make up the whole, if there must be any of the base at all; these
    parts are a row too.
    """
    found: dict[bytes, SparseRow] = {}
    weighted: list[SparseRow] = []

    def add(choices: Indices, needed: int) -> None:
        row = SparseRow(np.sort(choices), np.ones(len(choices)), float(needed), np.inf)
        known = found.get(row.indices.tobytes())
        if known is None or known.lower < row.lower:
            found[row.indices.tobytes()] = row

    totals = list(demands(form, program.size))
    for materials, weights, lower in totals:
        choices = program.own_choice[materials]
        if np.all(choices >= 0):
            add(choices, fewest(weights * most[materials], lower))
    for materials, parts in _parted(program, form):
        choices = program.own_choice[materials]
        if np.all(choices >= 0) and any(np.isin(brought, materials).all() for brought, _, _ in totals):
            add(choices, fewest(parts, WHOLE))
            weighted.append(SparseRow(choices, parts, WHOLE, np.inf))
    return [*found.values(), *weighted]


def fewest(parts: Floats, whole: float) -> int:
    """Return of how many parts, the largest first, it takes to make up a whole; one more than all where none do."""
    reached = np.cumsum(np.sort(parts)[::-1])
    return int(np.searchsorted(reached, whole - SLIVER)) + 1


def demands(form: Form, size: int) -> Iterator[tuple[Indices, Floats, float]]:
    """Yield what must be at least so much: the amounts that bring it, their weights, and the bound above 0."""
    amounts = of_amounts(form, size)
    for sign, bounds in ((1.0, form.row_lower), (-1.0, -form.row_upper)):
        for row in np.flatnonzero(amounts & np.isfinite(bounds) & (bounds > SLIVER)).tolist():
            span = slice(form.starts[row], form.starts[row + 1])
            indices, values = form.indices[span], sign * form.values[span]
            if np.any(values > 0):
                yield indices[values > 0], values[values > 0], float(bounds[row])


def of_amounts(form: Form, size: int) -> Flags:
    """Flag the rows in which only amounts stand, shape (rows,)."""
    choices = np.bincount(form.owner, weights=form.indices >= size, minlength=form.rows)
    return np.asarray((choices == 0) & (np.diff(form.starts) > 0), dtype=bool)


def _parted(program: Program, form: Form) -> Iterator[tuple[Indices, Floats]]:
    """Yield the materials of a base, with the greatest part of it that each can be by the shares that are bounded."""
    for index, moves in program.moves.stated.items():
        if program.requirements[index].key.section != "share":
            continue
        base: Floats | None = None
        members, parts = np.empty(0, dtype=np.intp), np.empty(0)
        for row, move in moves:
            share = move.measure if isinstance(move, MeasureMove) and move.side == "at_most" else None
            if share is None or share.denominator is None:
                continue
            if base is not share.denominator:
                base = share.denominator
                members = np.flatnonzero(base > 0)
                parts = np.ones(len(members))
            top = share.numerator[members]
            bound = _share_bound(form, row, members, base[members], top)
            if bound is not None:
                shared = top > 0
                parts[shared] = np.minimum(parts[shared], bound * base[members][shared] / top[shared])
        if np.any(parts < 1.0):
            yield members, parts


def _share_bound(form: Form, row: int, members: Indices, base: Floats, top: Floats) -> float | None:
    """Return at how much a row holds a share at most, over the members of its base; None where it holds another."""
    span = slice(form.starts[row], form.starts[row + 1])
    places = np.searchsorted(members, form.indices[span])
    inside = places < len(members)
    if form.row_upper[row] != 0.0 or not inside.all() or np.any(members[places] != form.indices[span]):
        return None
    held = np.zeros(len(members))
    held[places] = form.values[span]
    bounds = (top - held) / base
    return (
        float(bounds[0]) if np.ptp(bounds) < SLIVER * max(1.0, abs(bounds[0])) and np.all(top >= 0) else None
    )
