"""Finds, among solutions about as good by the aim, the cheapest of those with the fewest ingredients."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.program import SparseRow
from optiform.search.tree import searched
from optiform.solver import Outcome, Session
from optiform.tolerances import ROUNDING
from optiform.vectors import Flags, Floats

NONE = Outcome("infeasible", np.inf, np.inf)


def counts(objective: Floats, denominator: Floats | None, whole: Flags) -> bool:
    """Tell whether an objective only ever takes whole numbers: so many of one thing and another."""
    return (
        denominator is None and not objective[~whole].any() and bool(np.all(objective == np.round(objective)))
    )


@dataclass(eq=False)
class ProvenCounts:
    """What a session is known not to hold: solutions with at most so many counts, under an aim.

    It stays true while rows are only added to the session.

    Attributes
    ----------
    reach : float
        Each question is asked up to this aim at least: its answer then serves later ones, whose ceilings are higher.
    easy : bool
        Whether a few nodes mostly answer a question, as among solutions that are as good as the best.
    floors : dict of int to float
        By count: no solution with at most that count has less of the aim.
    found : list of Outcome
        Solutions that came to light, for whoever can use them.
    """

    reach: float = -np.inf
    easy: bool = False
    floors: dict[int, float] = field(default_factory=dict)
    found: list[Outcome] = field(default_factory=list)

    def floor(self, most: int) -> float:
        """Return the aim under which no solution with at most so many counts lies."""
        return max((aim for count, aim in self.floors.items() if count >= most), default=-np.inf)

    def below(self, session: Session, objective: Floats, count: Floats, most: int, ceiling: float) -> Outcome:
        """Return what `below_count` returns, and remember it."""
        outcome = below_count(session, objective, count, most, ceiling, easy=self.easy)
        if outcome.status == "infeasible":
            self.floors[most] = ceiling
        elif outcome.status == "solved":
            self.floors[most] = outcome.objective - ROUNDING * max(1.0, abs(outcome.objective))
            self.found.append(outcome)
        return outcome

    def take(self) -> list[Outcome]:
        """Return the solutions that came to light since the last time."""
        found, self.found = self.found, []
        return found


def fewest(
    session: Session,
    objective: Floats,
    count: Floats,
    tie: float,
    known: Sequence[Outcome],
    proven: ProvenCounts | None = None,
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
    proven : ProvenCounts, optional
        What is known of the session from earlier questions; it learns from these.

    Notes
    -----
    Begins at the solution known that has the smallest count, and asks for one fewer until there is none; then for
    a better aim with as many. Each time the aim is the objective and the count is a row: a far easier search than
    one for both at once.
    """
    proven = proven or ProvenCounts()
    first = known[0]
    ceiling = first.objective + tie
    least, _, best = min(
        (_counted(count, item), item.objective, place)
        for place, item in enumerate(known)
        if item.objective <= ceiling
    )
    found = known[best]
    improved = False
    while least > 0 and proven.floor(least - 1) < ceiling:
        fewer = proven.below(session, objective, count, least - 1, max(ceiling, proven.reach))
        near = fewer.values is not None and fewer.objective < ceiling
        if fewer.status == "stopped":
            return replace(fewer if near else found, status="stopped", bound=first.bound)
        if not near:
            break
        found, least, improved = fewer, _counted(count, fewer), True
    better = found.objective - ROUNDING * max(1.0, abs(found.objective))
    if not improved and best > 0 and proven.floor(least) < better:
        cheaper = proven.below(session, objective, count, least, better)
        if cheaper.status == "stopped" or cheaper.values is not None:
            found = replace(found, status=cheaper.status) if cheaper.values is None else cheaper
    return replace(found, bound=first.bound)


def _counted(count: Floats, item: Outcome) -> int:
    return round(float(count @ item.values)) if item.values is not None else 0


def below_count(
    session: Session, objective: Floats, count: Floats, most: int, ceiling: float, *, easy: bool = False
) -> Outcome:
    """Return the best solution by the aim with a count of at most so many, if it is under a ceiling.

    Of an `easy` question a few nodes are tried before an integer program is begun.
    """
    present = np.flatnonzero(count)
    with session.trial():
        session.add_row(SparseRow(present, count[present], -np.inf, float(most)))
        session.set_objective(objective)
        if easy:
            edge = ceiling + ROUNDING * max(1.0, abs(ceiling))
            found, proven = searched(session, objective, Outcome("solved", edge, edge))
            if proven:
                return found if found.values is not None and found.objective < ceiling else NONE
        return session.below(ceiling)
