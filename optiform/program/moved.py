"""The same program with the bounds of one wish moved: its rows and words change, no other row does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.bounds import decimals_between
from optiform.program.extended import rewritten
from optiform.program.program import Form, Program, SparseRow
from optiform.program.requirement import Requirement, limit_title
from optiform.program.rows.moves import MeasureMove


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
    return replace(
        program,
        form=_with_rows(program.form, rows),
        requirements=program.requirements.changed(
            {index: _titled(program, index, one, window) for index, one in window.items()}
        ),
        acid_rows=tuple(
            replace(acid, bound=bound) if acid.row in rows else acid for acid in program.acid_rows
        ),
    )


def _titled(program: Program, place: int, one: Requirement, window: dict[int, Requirement]) -> Requirement:
    """Return a requirement in words with as many decimals as tell both ends of its window apart."""
    move = program.moves[place][0][1]
    if not isinstance(move, MeasureMove) or one.bound is None or one.side is None:
        raise TypeError(f"no measure is bounded by {one.title}")
    if one.decimals is None:
        return replace(one, title=limit_title(one.label, one.side, one.bound, one.tail or one.unit))
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
