"""Finds, among solutions about as good by the aim, the cheapest of those with the fewest ingredients."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optiform.program import SparseRow
from optiform.solver import Outcome, Session
from optiform.tolerances import ROUNDING
from optiform.vectors import Flags, Floats


def counts(objective: Floats, denominator: Floats | None, whole: Flags) -> bool:
    """Tell whether an objective only ever takes whole numbers: so many of one thing and another."""
    return (
        denominator is None and not objective[~whole].any() and bool(np.all(objective == np.round(objective)))
    )


def fewest(
    session: Session, objective: Floats, count: Floats, tie: float, known: Sequence[Outcome]
) -> Outcome:
    """Return the best by the aim of the solutions with the smallest count, within `tie` of the best aim.

    Parameters
    ----------
    session : Session
    objective, count : ndarray, shape (columns,)
    tie : float
        In the aim's unit.
    known : sequence of Outcome
        Solutions of what the session holds, the first the best by the aim.

    Notes
    -----
    Begins at the solution known that has the smallest count, and asks for one fewer until there is none; then for
    a better aim with as many. Each time the aim is the objective and the count is a row: a far easier search than
    one for both at once.
    """
    first = known[0]
    ceiling = first.objective + tie
    least, _, best = min(
        (_counted(count, item), item.objective, place)
        for place, item in enumerate(known)
        if item.objective <= ceiling
    )
    found = known[best]
    improved = False
    while least > 0:
        fewer = below_count(session, objective, count, least - 1, ceiling)
        if fewer.status == "stopped":
            return replace(fewer if fewer.values is not None else found, status="stopped", bound=first.bound)
        if fewer.values is None:
            break
        found, least, improved = fewer, _counted(count, fewer), True
    if not improved and best > 0:
        cheaper = below_count(
            session, objective, count, least, found.objective - ROUNDING * max(1.0, abs(found.objective))
        )
        if cheaper.status == "stopped" or cheaper.values is not None:
            found = replace(found, status=cheaper.status) if cheaper.values is None else cheaper
    return replace(found, bound=first.bound)


def _counted(count: Floats, item: Outcome) -> int:
    return round(float(count @ item.values)) if item.values is not None else 0


def below_count(session: Session, objective: Floats, count: Floats, most: int, ceiling: float) -> Outcome:
    """Return the best solution by the aim with a count of at most so many, if it is under a ceiling."""
    present = np.flatnonzero(count)
    with session.trial():
        session.add_row(SparseRow(present, count[present], -np.inf, float(most)))
        session.set_objective(objective)
        return session.below(ceiling)
