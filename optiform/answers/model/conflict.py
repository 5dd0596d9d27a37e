"""Holds a conflict as frozen values: why a brief cannot be met, and the smallest ways out."""

from __future__ import annotations

from dataclasses import dataclass

from optiform.answers.model.formula import Line
from optiform.program import Requirement


@dataclass(frozen=True)
class Change:
    """One change of one requirement that makes a brief possible, re-solved as printed.

    `to` is the new bound; `readmit` lists materials or systems for a choice; `drop` says that the
    requirement has to go.
    """

    requirement: Requirement
    to: float | None = None
    readmit: tuple[str, ...] = ()
    drop: bool = False
    cost: float | None = None
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True)
class Together:
    """Changes that make a brief possible together, re-solved as printed: what the best formula then costs and is."""

    changes: tuple[Change, ...]
    cost: float | None
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Relaxation:
    """One part of a joint compromise."""

    requirement: Requirement
    to: float
    by: float


@dataclass(frozen=True)
class Conflict:
    """Requirements that cannot hold together, and the smallest ways out.

    `more` are conflicts that have nothing to do with the first; `together` settles all of them where
    a compromise of numbers cannot. Of `unconfirmed` a change seemed to help, but its formula did not hold when it was
    computed again: neither a way out nor a proof that there is none. `complete` is false where the time was over before
    all was known.
    """

    requirements: tuple[Requirement, ...]
    not_movable: tuple[Requirement, ...] = ()
    single_changes: tuple[Change, ...] = ()
    compromise: tuple[Relaxation, ...] = ()
    compromise_cost: float | None = None
    together: Together | None = None
    best_reachable: tuple[tuple[Requirement, float], ...] = ()
    unconfirmed: tuple[Requirement, ...] = ()
    more: tuple[tuple[Requirement, ...], ...] = ()
    quick: tuple[str, ...] = ()
    complete: bool = True
