"""Searches a few nodes of branch and bound on a live relaxation, before an integer program is begun.

A node costs a re-solve from the last basis, a third of a millisecond for two hundred materials; an integer program
costs its presolve and its cuts first, some twenty.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.solver import Outcome
from optiform.tolerances import CLEAR, ROUNDING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from optiform.solver import Session
    from optiform.vectors import Floats, Indices

    Ends = dict[int, tuple[float, float]]

NODES = 30
"""After so many nodes the solver's own search is the quicker one: measured on the programs of shipped conflicts."""


def searched(
    session: Session,
    objective: Floats,
    known: Outcome | None = None,
    start: Iterable[Ends] = ({},),
    refused: Callable[[Ends], None] | None = None,
) -> Outcome | None:
    """Return the least of an objective over all choices, proven; None where that takes more than a few nodes.

    Parameters
    ----------
    session : Session
        Holds the program with its choices whole.
    objective : ndarray, shape (columns,)
        No ratio. Where it is zero, any solution will do.
    known : Outcome, optional
        A solution: only what is better is looked for.
    start : iterable of mapping
        The ends of some columns in each branch to begin with; they hold every choice that is looked for.
    refused : callable, optional
        Told the ends of every branch without a solution, while the session holds it.

    Notes
    -----
    Depth first, on the choice that is nearest to be taken, taken first. A branch whose relaxation is impossible, or no
    better than what was found, holds nothing.
    """
    whole = np.flatnonzero(session.form.integer)
    best = known or Outcome("infeasible", np.inf, np.inf)
    branches: list[Ends] = list(start)
    with session.trial():
        session.set_objective(objective)
        session.relax()
        for _ in range(NODES):
            if not branches:
                break
            ends = branches.pop()
            with session.trial():
                for column, (lower, upper) in ends.items():
                    session.set_column_bounds(column, lower, upper)
                there = session.solve()
                if there.status == "stopped":
                    return None
                if there.values is None and refused is not None:
                    refused(ends)
                if there.values is None or not _better(there, best):
                    continue
                split = _split(session, there.values, whole, ends)
                if split:
                    branches += split
                    continue
                session.hold_columns(whole, np.round(there.values[whole]))
                there = session.solve()
            if there.values is None:
                return None
            if _better(there, best):
                best = Outcome("solved", there.objective, there.objective, there.values)
            if not objective.any():
                return best
    return None if branches else best


def _better(one: Outcome, other: Outcome) -> bool:
    """Tell whether a solution is better than the best so far."""
    if not np.isfinite(other.objective):
        return True
    return one.objective < other.objective - ROUNDING * max(1.0, abs(other.objective))


def _split(session: Session, values: Floats, whole: Indices, ends: Ends) -> tuple[Ends, Ends] | None:
    """Return the two branches of a node, the one to look at first last; None where every choice is whole."""
    part = values[whole] - np.floor(values[whole] + CLEAR)
    if not len(part) or part.max() < CLEAR:
        return None
    column = int(whole[int(np.argmax(part))])
    low, high = session.bounds_of(column)
    below = float(np.floor(values[column]))
    return {**ends, column: (low, below)}, {**ends, column: (below + 1.0, high)}
