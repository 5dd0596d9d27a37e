"""Finds an irreducible infeasible subset of the requirements, by leaving out one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

Item = TypeVar("Item")


def irreducible(possible: Callable[[Sequence[Item]], bool], items: Sequence[Item]) -> list[Item]:
    """Return items that are impossible together and possible as soon as any one of them goes.

    Parameters
    ----------
    possible : callable
        Tells whether some items can hold together; with all of them it would say no. Whatever is
        possible must stay so with fewer items.
    items : sequence
        Where there is a choice, earlier ones are kept.

    Notes
    -----
    Divide and conquer: halves are held while the other half is searched, so that k members among n
    items take about 2 k log2(n / k) + 2 k questions (U. Junker, QUICKXPLAIN: preferred explanations
    and relaxations for over-constrained problems, AAAI 2004, 167-172).
    """
    if not possible(()):
        return []
    return _within(possible, [], list(items), grown=False)


def _within(
    possible: Callable[[Sequence[Item]], bool], held: list[Item], items: list[Item], *, grown: bool
) -> list[Item]:
    """Return the part of `items` that is needed beside what is held; `grown`: held has more than before."""
    if grown and not possible(held):
        return []
    if len(items) == 1:
        return items
    half = (len(items) + 1) // 2
    first, second = items[:half], items[half:]
    late = _within(possible, [*held, *first], second, grown=True)
    early = _within(possible, [*held, *late], first, grown=bool(late))
    return [*early, *late]


def pared(core: Callable[[Sequence[Item]], Sequence[Item] | None], items: Sequence[Item]) -> list[Item]:
    """Return items that are impossible together, dropped one by one from the last on while they stay so.

    Parameters
    ----------
    core : callable
        Tells which of some items are enough to be impossible together; None where all of them can hold. Whatever is
        possible must stay so with fewer items.
    items : sequence
        Impossible together.

    Notes
    -----
    A deletion filter in which every proof also drops what it did not need (J. W. Chinneck, Feasibility and
    Infeasibility in Optimization, Springer 2008, chapter 6): for short lists, or where a proof tells much.
    """
    kept = list(items)
    for item in reversed(items):
        if item in kept:
            fewer = core([other for other in kept if other is not item])
            kept = kept if fewer is None else list(fewer)
    return kept
