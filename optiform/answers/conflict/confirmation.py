"""Confirms a suggestion: the brief with it is solved, and so is the brief with one printed place less."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.model.answer import Change, Relaxation
from optiform.brief.models import Brief
from optiform.program import Program, build, in_place, with_bound
from optiform.search.best_formula import exact
from optiform.search.fixed_choices import Polished
from optiform.search.ionic_strength import feasible
from optiform.search.relaxation import place_of
from optiform.solver import NO_LIMIT, Clock, OutOfTime

Suggestion = TypeVar("Suggestion", "Change", Relaxation)

PLACES = 20
"""How many printed places a bound is corrected by; the ionic strength moves it by one or two."""


@dataclass(eq=False)
class Confirmation:
    """Solves a brief with suggestions typed in; each such brief is stated once.

    Attributes
    ----------
    clock : Clock
        Once its time is over every answer is `OutOfTime`.
    """

    brief: Brief
    clock: Clock = NO_LIMIT
    _stated: dict[tuple[Change | Relaxation, ...], Program] = field(default_factory=dict, repr=False)

    def stated(self, *changes: Change | Relaxation) -> Program:
        """Return the program of the brief with suggestions typed in."""
        if changes not in self._stated:
            self._stated[changes] = self._in_place(changes) or build(typed_back(self.brief, *changes))
        return self._stated[changes]

    def _in_place(self, changes: Sequence[Change | Relaxation]) -> Program | None:
        """Return the brief's own program with bounds moved; None where the changes do more than that, or nothing."""
        if not changes:
            return None
        program = self.stated()
        for count, change in enumerate(changes, 1):
            moved = typed_back(self.brief, *changes[:count])
            place = in_place(program, change.requirement.key, change.to, moved)
            if place is None:
                return None
            program = with_bound(program, *place)
        return program

    def solved(self, *changes: Change | Relaxation) -> Polished | None:
        """Return the best formula with suggestions typed in, or None where the brief still cannot be met.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        found = exact(self.stated(*changes), self.clock)
        if found.stopped and found.polished is None:
            raise OutOfTime
        return found.polished

    def possible(self, *changes: Change | Relaxation) -> bool:
        """Tell whether the brief can be met with suggestions typed in."""
        return feasible(self.stated(*changes), self.clock)

    def proven(self, change: Change, place: float) -> tuple[Change, Polished] | None:
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
            found = self.solved(change)
            return None if found is None else (change, found)
        tighter = place if change.requirement.bound > change.to else -place
        for _ in range(PLACES):
            found = self.solved(change)
            if found is not None:
                break
            change = _moved(change, -tighter)
        else:
            return None
        for _ in range(PLACES):
            less = _moved(change, tighter)
            if less.to == change.requirement.bound or not self.possible(less):
                break
            better = self.solved(less)
            if better is None:
                break
            change, found = less, better
        return change, found

    def together(self, changes: Sequence[Suggestion]) -> tuple[tuple[Suggestion, ...], Polished] | None:
        """Return changes that work when all are typed in, each by a few places more if it must, with the formula."""
        typed = tuple(changes)
        for _ in range(PLACES):
            found = self.solved(*typed)
            if found is not None:
                return typed, found
            typed = tuple(_further(change) for change in typed)
        return None

    def least(
        self, changes: tuple[Relaxation, ...], formula: Polished
    ) -> tuple[tuple[Relaxation, ...], Polished]:
        """Return changes that work together without the places that any can still take back, with the formula.

        What was found at one ionic strength may be off by a place or two at that of the changed brief.
        """
        for number in range(len(changes)):
            for _ in range(PLACES):
                change = changes[number]
                bound = change.requirement.bound or 0.0
                place = place_of(change.requirement)
                less = replace(change, to=round(change.to - (place if change.to > bound else -place), 2))
                if abs(less.to - bound) < place / 2:
                    break
                tighter = (*changes[:number], replace(less, by=abs(less.to - bound)), *changes[number + 1 :])
                found = self.solved(*tighter) if self.possible(*tighter) else None
                if found is None:
                    break
                changes, formula = tighter, found
        return changes, formula


def _moved(change: Change, by: float) -> Change:
    return replace(change, to=round((change.to or 0.0) + by, 2))


def _further(change: Suggestion) -> Suggestion:
    """Return a change by one printed place more, where it moves a bound."""
    if change.to is None:
        return change
    bound = change.requirement.bound or 0.0
    place = place_of(change.requirement)
    to = round(change.to + (place if change.to > bound else -place), 2)
    return (
        replace(change, to=to, by=abs(to - bound))
        if isinstance(change, Relaxation)
        else replace(change, to=to)
    )
