"""Finds an irreducible infeasible subset of the requirements, by leaving out one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

Item = TypeVar("Item")


def irreducible(core: Callable[[Sequence[Item]], Sequence[Item] | None], items: Sequence[Item]) -> list[Item]:
    """Return items that are impossible together and possible as soon as any one of them goes.

    Parameters
    ----------
    core : callable
        Tells which of some items are enough to be impossible together; None where all of them can hold. Whatever is
        possible must stay so with fewer items.
    items : sequence
        Impossible together, with what is no part of the first proof left out.

    Notes
    -----
    A deletion filter, from the last item on, in which every proof also drops what it did not need (J. W. Chinneck,
    Feasibility and Infeasibility in Optimization, Springer 2008, chapter 6; the sensitivity filter).
    """
    kept = list(items)
    for item in reversed(items):
        if item in kept:
            fewer = core([other for other in kept if other is not item])
            kept = kept if fewer is None else list(fewer)
    return kept


def pared(possible: Callable[[Sequence[Item]], bool], items: Sequence[Item]) -> list[Item]:
    """Return items that are impossible together, dropped one by one from the last on while they stay so.

    The plain deletion filter (J. W. Chinneck, Feasibility and Infeasibility in Optimization,
    Springer 2008, chapter 6): one question per item, for short lists.
    """
    kept = list(items)
    for item in reversed(items):
        fewer = [other for other in kept if other is not item]
        if not possible(fewer):
            kept = fewer
    return kept
