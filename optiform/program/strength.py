"""The same program at another ionic strength: only its rows of charge change."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.measures import Catalogue
from optiform.measures.acidity import Acidity, BufferCapacity
from optiform.program.extended import rewritten
from optiform.program.moves import HALF, MeasureMove, WhenMove

if TYPE_CHECKING:
    from optiform.program.program import AcidRow, Move, Program, SparseRow


def at_strength(program: Program, ionic_strength: float) -> Program:
    """Return a program whose pH rows are taken at another ionic strength.

    Parameters
    ----------
    program : Program
    ionic_strength : float  [mol per kg of water]
    """
    if not program.acid_rows:
        return program
    conditions = replace(program.catalogue.conditions, ionic_strength=ionic_strength)
    catalogue = Catalogue(program.library, conditions)
    form = program.form
    values, lower, upper = form.values.copy(), form.row_lower.copy(), form.row_upper.copy()
    longer: dict[int, dict[int, float]] = {}
    for acid in program.acid_rows:
        content = acid_row(program, acid, catalogue)
        span = slice(form.starts[acid.row], form.starts[acid.row + 1])
        dense = np.zeros(form.columns)
        dense[content.indices] = content.values
        values[span] = dense[form.indices[span]]
        lower[acid.row], upper[acid.row] = content.lower, content.upper
        if np.count_nonzero(values[span]) < np.count_nonzero(content.values):
            longer[acid.row] = dict(zip(content.indices.tolist(), content.values.tolist(), strict=True))
    moved = rewritten(replace(form, values=values, row_lower=lower, row_upper=upper), longer)
    return replace(
        program,
        catalogue=catalogue,
        form=moved,
        moves=program.moves.changed(
            {
                key: tuple((row, _moved(move, catalogue)) for row, move in program.moves[key])
                for key in {int(program.row_requirement[acid.row]) for acid in program.acid_rows}
                if key in program.moves
            }
        ),
    )


def acid_row(program: Program, acid: AcidRow, catalogue: Catalogue, slack: float = HALF) -> SparseRow:
    """Return a row that depends on the ionic strength at that of a catalogue, its bound relaxed by `slack`."""
    measure = catalogue.find(acid.measure)
    if acid.choices is None:
        return MeasureMove(measure, acid.side).row(acid.bound, slack)
    return WhenMove(measure, acid.side, acid.choices, program.library.arrays.max_use).row(acid.bound, slack)


def _moved(move: Move, catalogue: Catalogue) -> Move:
    """Return a move that takes pH and buffer capacity at the new ionic strength; others stay."""
    if isinstance(move, (MeasureMove, WhenMove)) and isinstance(move.measure, (Acidity, BufferCapacity)):
        return replace(move, measure=catalogue.find(move.measure.name))
    return move
