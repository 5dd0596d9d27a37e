"""A suggestion typed into its brief and solved as that brief would be: it works, and one place less does not."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.model.answer import Relaxation
from optiform.program import build
from optiform.search.best_formula import exact
from optiform.search.ionic_strength import feasible
from optiform.search.relaxation import GRID
from optiform.solver import NO_LIMIT, Clock, OutOfTime

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.model.answer import Change
    from optiform.brief.models import Brief
    from optiform.search.fixed_choices import Polished

Suggestion = TypeVar("Suggestion", "Change", Relaxation)

PLACES = 20
"""How many printed places a bound is corrected by; the ionic strength moves it by one or two."""


def solved(brief: Brief, *changes: Change | Relaxation, clock: Clock = NO_LIMIT) -> Polished | None:
    """Return the best formula of a brief with suggestions typed in, or None where it still cannot be met.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    found = exact(build(typed_back(brief, *changes)), clock)
    if found.stopped and found.polished is None:
        raise OutOfTime
    return found.polished


def possible(brief: Brief, *changes: Change | Relaxation, clock: Clock = NO_LIMIT) -> bool:
    """Tell whether a brief can be met with suggestions typed in."""
    return feasible(build(typed_back(brief, *changes)), clock)


def proven(
    brief: Brief, change: Change, place: float, clock: Clock = NO_LIMIT
) -> tuple[Change, Polished] | None:
    """Return a change as it works when typed in, corrected to the last place that does, with its formula.

    Parameters
    ----------
    place : float
        Unit of the last printed place.

    Notes
    -----
    A pH is held at an ionic strength that follows the formula, so a bound found at one strength may
    be off by a place at the strength that the changed brief finds for itself.
    """
    if change.to is None or change.requirement.bound is None:
        found = solved(brief, change, clock=clock)
        return None if found is None else (change, found)
    tighter = place if change.requirement.bound > change.to else -place
    for _ in range(PLACES):
        found = solved(brief, change, clock=clock)
        if found is not None:
            break
        change = _moved(change, -tighter)
    else:
        return None
    for _ in range(PLACES):
        less = _moved(change, tighter)
        if less.to == change.requirement.bound or not possible(brief, less, clock=clock):
            break
        better = solved(brief, less, clock=clock)
        if better is None:
            break
        change, found = less, better
    return change, found


def _moved(change: Change, by: float) -> Change:
    return replace(change, to=round((change.to or 0.0) + by, 2))


def proven_together(
    brief: Brief, changes: Sequence[Suggestion], clock: Clock = NO_LIMIT
) -> tuple[tuple[Suggestion, ...], Polished] | None:
    """Return changes that work when all are typed in, each by a few places more where it must, with the formula."""
    typed = tuple(changes)
    for _ in range(PLACES):
        found = solved(brief, *typed, clock=clock)
        if found is not None:
            return typed, found
        typed = tuple(_further(change) for change in typed)
    return None


def proven_least(
    brief: Brief, changes: tuple[Relaxation, ...], formula: Polished, clock: Clock = NO_LIMIT
) -> tuple[tuple[Relaxation, ...], Polished]:
    """Return changes that work together without the places that any of them can still take back, with the formula.

    What was found at one ionic strength may be off by a place or two at that of the changed brief.
    """
    for number in range(len(changes)):
        for _ in range(PLACES):
            change = changes[number]
            bound = change.requirement.bound or 0.0
            less = replace(change, to=round(change.to - (GRID if change.to > bound else -GRID), 2))
            if abs(less.to - bound) < GRID / 2:
                break
            tighter = (*changes[:number], replace(less, by=abs(less.to - bound)), *changes[number + 1 :])
            found = solved(brief, *tighter, clock=clock) if possible(brief, *tighter, clock=clock) else None
            if found is None:
                break
            changes, formula = tighter, found
    return changes, formula


def _further(change: Suggestion) -> Suggestion:
    """Return a change by one printed place more, where it moves a bound."""
    if change.to is None:
        return change
    bound = change.requirement.bound or 0.0
    place = 1.0 if change.requirement.choice else GRID
    to = round(change.to + (place if change.to > bound else -place), 2)
    return (
        replace(change, to=to, by=abs(to - bound))
        if isinstance(change, Relaxation)
        else replace(change, to=to)
    )
