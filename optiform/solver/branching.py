"""Holds squares exactly: the range of a root is halved until a solution has its square as it is.

Between two ends a square lies below a straight line, so that every part of a range has a convex program that allows no
less than the part itself. The part whose program is best is halved first, and the first solution that holds with its
squares as they are is the proven best of all.

Source: R. Horst and H. Tuy, Global Optimization, 1996 (spatial branch and bound; from memory).
"""

from __future__ import annotations

from dataclasses import replace
from heapq import heappop, heappush
from itertools import count
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.norm import lifted
from optiform.solver.outcome import Outcome

if TYPE_CHECKING:
    from optiform.solver.session import Session
    from optiform.vectors import Floats

    Box = tuple[tuple[float, float], ...]

LEAST_PART = 0.1
"""Each half holds this part of a range at least, so that ranges shrink however solutions lie."""


def branched(session: Session) -> Outcome:
    """Return the proven best solution of a session with its squares as they are; infeasible where there is none.

    Once time is over the best solution so far is returned. To have one early, the roots of a solution are held where
    they are, at the first, second, fourth, eighth ... part that is halved.
    """
    squares = session.tangents.squares
    todo: tuple[Box, ...] = (tuple((0.0, float(np.sqrt(session.form.upper[one.column]))) for one in squares),)
    waiting: list[tuple[float, int, Box, Outcome, Floats]] = []
    bound, order, halved = -np.inf, count(), 0
    known: Outcome | None = None

    def solved(part: Box) -> Outcome:
        nonlocal known
        outcome = _within(session, part)
        if outcome.values is not None and session.furthest_off(outcome.values) is None:
            known = outcome if known is None or outcome.objective < known.objective else known
        return outcome

    while True:
        for part in todo:
            outcome = solved(part)
            if outcome.status == "stopped":
                open_bounds = (
                    [outcome.bound, *(one[3].bound for one in waiting)] if part is todo[-1] else [bound]
                )
                return _stopped(session, known, max(bound, min(open_bounds)))
            if outcome.values is not None:
                heappush(waiting, (outcome.objective, next(order), part, outcome, outcome.values))
        if not waiting:
            return Outcome("infeasible", np.inf, np.inf)
        bound, _, part, outcome, values = heappop(waiting)
        place = session.furthest_off(values)
        if place is None:
            least = min([outcome.bound, *(one[3].bound for one in waiting)])
            return replace(outcome, bound=least, values=lifted(session.form.norms, values))
        roots = [square.root(values) for square in squares]
        halved += 1
        if halved.bit_count() == 1 and solved(tuple((root, root) for root in roots)).status == "stopped":
            return _stopped(session, known, bound)
        todo = _halves(part, place, roots[place])


def _within(session: Session, box: Box) -> Outcome:
    """Solve the convex program of a part, which is right where a square lies at one of its ends."""
    with session.trial():
        added = 0
        for square, ends in zip(session.tangents.squares, box, strict=True):
            for row in square.within(*ends):
                session.add_row(row)
                added += 1
        outcome = session.solve_convex()
    if outcome.row_dual is None:
        return outcome
    return replace(outcome, row_dual=outcome.row_dual[:-added])


def _halves(part: Box, place: int, root: float) -> tuple[Box, Box]:
    """Return a part cut in two where a solution has the root of a square, or near it."""
    low, high = part[place]
    at = float(np.clip(root, low + LEAST_PART * (high - low), high - LEAST_PART * (high - low)))
    before, after = part[:place], part[place + 1 :]
    return (*before, (low, at), *after), (*before, (at, high), *after)


def _stopped(session: Session, known: Outcome | None, bound: float) -> Outcome:
    """Return what is known once time is over: the best solution so far, if there is one, and a bound on any."""
    if known is None or known.values is None:
        return Outcome("stopped", np.inf, bound)
    values = lifted(session.form.norms, known.values)
    return replace(known, status="stopped", bound=bound, values=values)
