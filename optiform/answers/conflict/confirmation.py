"""Confirms a suggestion: the brief with it is solved, and so is the brief with one printed place less."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from optiform.answers.conflict.restated import Restated
from optiform.answers.model.answer import Change, Relaxation
from optiform.search.best_formula import exact
from optiform.search.fixed_choices import Polished, polish
from optiform.search.ionic_strength import formulas
from optiform.search.relaxation import place_of
from optiform.solver import NO_LIMIT, Clock, OutOfTime

Suggestion = TypeVar("Suggestion", "Change", Relaxation)

PLACES = 20
"""How many printed places a bound is corrected by; the ionic strength moves it by one or two."""


@dataclass(eq=False)
class Confirmation:
    """Solves a brief with suggestions typed in.

    Attributes
    ----------
    restated : Restated
        The brief, and its programs.
    clock : Clock
        Once its time is over every answer is `OutOfTime`.
    """

    restated: Restated
    clock: Clock = NO_LIMIT

    def solved(self, *changes: Change | Relaxation) -> Polished | None:
        """Return the best formula with suggestions typed in, or None where the brief still cannot be met.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        found = exact(self.restated.program(*changes), self.clock)
        if found.stopped and found.polished is None:
            raise OutOfTime
        return found.polished

    def found(self, *changes: Change | Relaxation) -> Polished | None:
        """Return any formula with suggestions typed in, at its own ionic strength; None where there is none.

        The best one is asked for only where the first that is found does not hold its pH there.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        seen = False
        for program, values in formulas(self.restated.program(*changes), self.clock):
            seen, formula = True, polish(program, values)
            if formula is not None:
                return formula
        return self.solved(*changes) if seen else None

    def possible(self, *changes: Change | Relaxation) -> bool:
        """Tell whether the brief can be met with suggestions typed in."""
        return any(formulas(self.restated.program(*changes), self.clock))

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

    def together(
        self, changes: Sequence[Suggestion], *, least: bool = False
    ) -> tuple[tuple[Suggestion, ...], Polished] | None:
        """Return changes that work when all are typed in, with their best formula; None where none work.

        What was found at one ionic strength may be off by a place or two at that of the changed brief: each change
        goes a few places further if it must.

        Parameters
        ----------
        least : bool
            Whether each then takes back the places that are not needed.

        Notes
        -----
        Whether changes work is told by any formula. Only where one is found and the best one is not, the best one is
        asked for each time.
        """
        for finds in (self.found, self.solved):
            typed = _working(changes, finds)
            if typed is None:
                return None
            if least:
                typed = _taken_back(typed, finds)
            best = self.solved(*typed)
            if best is not None:
                return typed, best
        return None


def _working(
    changes: Sequence[Suggestion], finds: Callable[..., Polished | None]
) -> tuple[Suggestion, ...] | None:
    """Return changes that work when all are typed in, each by a few places more if it must."""
    typed = tuple(changes)
    for _ in range(PLACES):
        if finds(*typed) is not None:
            return typed
        typed = tuple(_further(change) for change in typed)
    return None


def _taken_back(
    changes: tuple[Suggestion, ...], finds: Callable[..., Polished | None]
) -> tuple[Suggestion, ...]:
    """Return changes that work together without the places that any can still take back."""
    known = list(changes)
    for place in range(len(known)):
        for _ in range(PLACES):
            less = _further(known[place], -1)
            if (
                less.to is None
                or abs(less.to - (less.requirement.bound or 0.0)) < place_of(less.requirement) / 2
            ):
                break
            tighter = known.copy()
            tighter[place] = less
            if finds(*tighter) is None:
                break
            known = tighter
    return tuple(known)


def _moved(change: Change, by: float) -> Change:
    return replace(change, to=round((change.to or 0.0) + by, 2))


def _further(change: Suggestion, places: int = 1) -> Suggestion:
    """Return a change by some printed places more, where it moves a bound."""
    if change.to is None:
        return change
    bound = change.requirement.bound or 0.0
    by = places * place_of(change.requirement)
    to = round(change.to + (by if change.to > bound else -by), 2)
    return (
        replace(change, to=to, by=abs(to - bound))
        if isinstance(change, Relaxation)
        else replace(change, to=to)
    )
