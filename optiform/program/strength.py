"""Takes a program at another ionic strength: only its rows of charge change."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.measures import Catalogue
from optiform.program.extended import rewritten
from optiform.program.program import Move, Program
from optiform.program.rows.moves import EndMove, MeasureMove, WhenMove


def at_strength(program: Program, ionic_strength: float) -> Program:
    """Return a program whose pH rows are taken at another ionic strength.

    `ionic_strength` is in [mol per kg of water].
    """
    if not program.acid_rows or program.catalogue.conditions.ionic_strength == ionic_strength:
        return program
    conditions = replace(program.catalogue.conditions, ionic_strength=ionic_strength)
    form = program.form
    values, lower, upper = form.values.copy(), form.row_lower.copy(), form.row_upper.copy()
    longer: dict[int, dict[int, float]] = {}
    moved = tuple(replace(acid, move=acid.move.at_strength(ionic_strength)) for acid in program.acid_rows)
    for acid in moved:
        content = acid.move.row(acid.bound)
        span = slice(form.starts[acid.row], form.starts[acid.row + 1])
        dense = np.zeros(form.columns)
        dense[content.indices] = content.values
        values[span] = dense[form.indices[span]]
        lower[acid.row], upper[acid.row] = content.lower, content.upper
        if np.count_nonzero(values[span]) < np.count_nonzero(content.values):
            longer[acid.row] = dict(zip(content.indices.tolist(), content.values.tolist(), strict=True))
    asked = {int(program.row_requirement[acid.row]) for acid in moved}
    return replace(
        program,
        catalogue=Catalogue(program.library, conditions),
        form=rewritten(replace(form, values=values, row_lower=lower, row_upper=upper), longer),
        acid_rows=moved,
        upper_ends=tuple(
            replace(ends, move=ends.move.at_strength(ionic_strength)) for ends in program.upper_ends
        ),
        moves=program.moves.changed(
            {
                key: tuple((row, _moved(move, ionic_strength)) for row, move in program.moves[key])
                for key in asked
                if key in program.moves
            }
        ),
    )


def _moved(move: Move, ionic_strength: float) -> Move:
    """Return a move that takes what it bounds at another ionic strength, where that matters."""
    if isinstance(move, MeasureMove | WhenMove | EndMove):
        return move.at_strength(ionic_strength)
    return move
