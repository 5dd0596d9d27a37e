"""The best formula of a brief alone, ties broken as the brief says: what tables of what-ifs are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.polish import polish, ties_of
from optiform.answers.prepare import prepare
from optiform.answers.rank import Candidate, rank

if TYPE_CHECKING:
    from optiform.answers.polish import Polished
    from optiform.brief.models import Brief


def first_of(brief: Brief, deadline: float | None = None) -> Polished | None:
    """Return the formula that `design` would list first, or None where nothing holds everything.

    Parameters
    ----------
    brief : Brief
    deadline : float, optional
        Moment on `time.monotonic` after which the best so far is returned.
    """
    program = prepare(brief, deadline)
    then = ties_of(program, brief.aim.then)
    found = next(iter(rank(program, 1, then, brief.aim.tie, deadline)))
    if not isinstance(found, Candidate):
        return None
    return polish(program, found.values, then, brief.aim.tie, found.best)
