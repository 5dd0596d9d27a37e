"""Tells what it costs that limits hold for the next reading, and not for the likeliest one alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.answers.model.answer import MarginCost
from optiform.brief.models import Brief
from optiform.program.reduction.part import Part
from optiform.program.rows.moves import ChargeMove, MarginMove
from optiform.search.narrow.screening import Screened
from optiform.search.ranking import best_expected
from optiform.solver import Clock, Session
from optiform.vectors import among


def margin_cost(brief: Brief, screened: Screened, clock: Clock) -> MarginCost | None:
    """Return by how much the best aim would be better without margins; None where none is asked for, or time is over.

    Both aims are those of the ranking, at its ionic strength. Without margins a formula is no worse by the aim, so it
    lies in the part of the program that holds every formula worth listing.
    """
    program, part, first = screened.program, screened.part, screened.first
    sure = sorted({target.sure for target in brief.targets.values() if target.sure is not None})
    if not sure or first.status != "solved":
        return None
    moves = [move for pairs in program.moves.stated.values() for _, move in pairs]
    margins = {move.column for move in moves if isinstance(move, MarginMove | ChargeMove)} - {-1}
    columns = np.array(sorted(margins), dtype=np.intp)
    if isinstance(part, Part):
        columns = np.flatnonzero(among(part.columns, columns))
    norms = tuple(norm for norm in part.form.norms if norm.column not in columns)
    session = Session(replace(part.form, norms=norms), clock=clock, arrays=True)
    without = best_expected(session, part.form.objective, part.ratio_aim, first)
    if without.status != "solved":
        return None
    return MarginCost(tuple(sure), max(first.objective - without.objective, 0.0))
