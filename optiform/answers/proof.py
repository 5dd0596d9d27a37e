"""A suggestion typed into its brief and solved as that brief would be: it works, and one place less does not."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from optiform.answers.moving import GRID
from optiform.answers.prepare import ground
from optiform.answers.typed_back import typed_back
from optiform.program import build

if TYPE_CHECKING:
    from optiform.answers.answer import Change, Relaxation
    from optiform.answers.prepare import Ground
    from optiform.brief.models import Brief

PLACES = 20
"""How many printed places a bound is corrected by; the ionic strength moves it by one or two."""


def solved(brief: Brief, *changes: Change | Relaxation) -> Ground | None:
    """Return the ground of a brief with suggestions typed in, or None where it still cannot be met."""
    found = ground(build(typed_back(brief, *changes)))
    return None if found.first.values is None else found


def proven(brief: Brief, change: Change, place: float) -> tuple[Change, Ground] | None:
    """Return a change as it works when typed in, corrected to the last place that does, with its formula.

    Parameters
    ----------
    brief : Brief
    change : Change
    place : float
        Unit of the last printed place.

    Notes
    -----
    A pH is held at an ionic strength that follows the formula, so a bound found at one strength may
    be off by a place at the strength that the changed brief finds for itself.
    """
    found = solved(brief, change)
    if change.to is None or change.requirement.bound is None:
        return None if found is None else (change, found)
    tighter = place if change.requirement.bound > change.to else -place
    for _ in range(PLACES):
        if found is not None:
            break
        change = replace(change, to=round(change.to - tighter, 2)) if change.to is not None else change
        found = solved(brief, change)
    if found is None:
        return None
    for _ in range(PLACES):
        less = replace(change, to=round((change.to or 0.0) + tighter, 2))
        better = None if less.to == change.requirement.bound else solved(brief, less)
        if better is None:
            break
        change, found = less, better
    return change, found


def looser(relaxation: Relaxation) -> Relaxation:
    """Return a relaxation by one printed place more."""
    bound = relaxation.requirement.bound or 0.0
    to = round(relaxation.to + (GRID if relaxation.to > bound else -GRID), 2)
    return replace(relaxation, to=to, by=abs(to - bound))
