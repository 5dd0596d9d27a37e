"""Moves the bounds of one wish in a program: its rows and words change, no other row does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.bounds import decimals_between
from optiform.brief.models import Brief
from optiform.program.extended import rewritten
from optiform.program.program import Form, Program, SparseRow
from optiform.program.requirement import Key, Requirement, limit_title
from optiform.program.rows.moves import MeasureMove

SECTIONS = ("targets", "include", "share", "ratio")
"""Where a wish is that a row of its own holds, so that its bound moves in place."""


def with_bound(program: Program, place: int, bound: float) -> Program:
    """Return a program in which a requirement on a measure has another bound, as if it had been built so.

    Parameters
    ----------
    place : int
        Position of a requirement whose rows all bound one measure from one side.
    """
    stated = program.requirements[place]
    here = replace(stated, bound=bound)
    window = {place: here}
    for side in ("at_least", "at_most"):
        other = program.index_of.get(stated.key.end(side))
        if other is not None and other != place:
            window[other] = program.requirements[other]
    rows = {row: move.row(bound) for row, move in program.moves[place]}
    titled = {index: _titled(program, index, one, window) for index, one in window.items()}
    return replace(
        program,
        form=_with_rows(program.form, rows),
        requirements=program.requirements.changed(titled),
        acid_rows=tuple(
            replace(acid, bound=bound) if acid.row in rows else acid for acid in program.acid_rows
        ),
    )


def in_place(program: Program, key: Key, to: float | None, moved: Brief) -> tuple[int, float] | None:
    """Return which requirement a changed bound moves, by its position, and to what; None where it does more than that.

    A count, a pH, a side that comes or goes, and an amount that begins or ceases to be asked for change which rows
    there are. So does any target where a soft wish, or the certainty of lots, follows it.

    Parameters
    ----------
    to : float, optional
        None takes the bound away.
    moved : Brief
        With the bound changed.
    """
    if to is None or moved.prefer:
        return None
    index = program.index_of.get(key)
    if index is None or key.section not in SECTIONS:
        return None
    requirement = program.requirements[index]
    if requirement.measure == "pH" or requirement.side == "equal" or _opposite(moved, key) == to:
        return None
    if key.section == "include" and (to == 0) != (requirement.bound == 0):
        return None
    return (index, to) if _by_measure(program, index, requirement) else None


def _by_measure(program: Program, index: int, requirement: Requirement) -> bool:
    """Tell whether rows that bound a measure of amounts are all that a requirement has."""
    moves = program.moves.get(index, ())
    rows = {row for row, _ in moves}
    return (
        bool(moves)
        and all(isinstance(move, MeasureMove) and move.side == requirement.side for _, move in moves)
        and rows == set(program.rows_of[index].tolist())
    )


def _opposite(brief: Brief, key: Key) -> float | None:
    """Return the other side of the wish that a key names."""
    side = "at_most" if key.side == "at_least" else "at_least"
    held = brief.targets[key.name] if key.section == "targets" else getattr(brief, key.section)[key.entry - 1]
    other: float | None = getattr(held, side)
    return other


def _titled(program: Program, place: int, one: Requirement, window: dict[int, Requirement]) -> Requirement:
    """Return a requirement in words with as many decimals as tell both ends of its window apart."""
    move = program.moves[place][0][1]
    if not isinstance(move, MeasureMove) or one.bound is None or one.side is None:
        raise TypeError(f"no measure is bounded by {one.title}")
    decimals = None
    if one.decimals is not None:
        ends = {end.side: end.bound for end in window.values()}
        decimals = decimals_between(ends.get("at_least"), ends.get("at_most"), move.measure.bound_decimals)
    title = limit_title(one.label, one.side, one.bound, one.tail or one.unit, decimals)
    return replace(one, title=title, decimals=decimals)


def _with_rows(form: Form, rows: dict[int, SparseRow]) -> Form:
    """Return a form in which some rows read otherwise."""
    values, lower, upper = form.values.copy(), form.row_lower.copy(), form.row_upper.copy()
    longer: dict[int, dict[int, float]] = {}
    for row, content in rows.items():
        span = slice(form.starts[row], form.starts[row + 1])
        lower[row], upper[row] = content.lower, content.upper
        if np.array_equal(form.indices[span], content.indices):
            values[span] = content.values
        else:
            longer[row] = dict(zip(content.indices.tolist(), content.values.tolist(), strict=True))
    return rewritten(replace(form, values=values, row_lower=lower, row_upper=upper), longer)
