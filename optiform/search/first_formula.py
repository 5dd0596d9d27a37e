"""Finds the formula of a brief that `design` lists first."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.program import build
from optiform.search.cardinality import counts
from optiform.search.fixed_choices import Polished, ordered, polish, rough, same_choices, ties_of
from optiform.search.incumbent import in_time
from optiform.search.ionic_strength import prepare
from optiform.search.narrow.screening import MANY, screen
from optiform.search.narrow.small_program import on_small_program
from optiform.search.own_strength import at_own_strength
from optiform.search.ranking import Candidate, rank
from optiform.search.ties import settled, spread_of
from optiform.solver import NO_LIMIT, Clock, OutOfTime

if TYPE_CHECKING:
    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.search.fixed_choices import Ties
    from optiform.search.narrow.screening import Screened

SHIFTS = 10.0
LEAST_SHIFT = 1e-4
"""Part of the aim by which a formula's own ionic strength is taken to shift it, where none shifted by more."""
LIKELY = 2
"""So many formulas are ranked first where their own ionic strengths may change their order; it is mostly enough."""


@dataclass(frozen=True, eq=False)
class First:
    """What was found.

    Attributes
    ----------
    program : Program
        At the ionic strength of the search.
    polished : Polished, optional
        None where no formula was found that holds everything.
    proven : bool
        Whether no other structure is better.
    stopped : bool
        Whether the time was over before that was known.
    conclusive : bool
        Whether no formula above the ceiling of what was ranked could be the first.
    shift : float
        The largest difference that a formula's own ionic strength made to its aim.
    """

    program: Program = field(repr=False)
    polished: Polished | None = field(repr=False)
    proven: bool
    stopped: bool
    conclusive: bool = True
    shift: float = 0.0


def first_listed(brief: Brief, clock: Clock = NO_LIMIT, stated: Program | None = None) -> First:
    """Return the formula that `design` lists first.

    Parameters
    ----------
    brief : Brief
    clock : Clock
        Once its time is over the search stops.
    stated : Program, optional
        The brief as a program, where that was built before.
    """
    program = stated or build(brief)
    how_many = listed_for(brief, program) if program.size >= MANY else 1
    spread = spread_of(brief, program)
    if how_many > LIKELY:
        shifted = spread + SHIFTS * LEAST_SHIFT if brief.aim.then else spread
        screened = screen(program, LIKELY, shifted, clock)
        found = first_of_ranked(brief, screened, most=LIKELY)
        if found.conclusive or found.stopped or not screened.first.found:
            return found
    return first_of_ranked(brief, screen(program, how_many, spread, clock))


def listed_for(brief: Brief, program: Program) -> int:
    """Return how many formulas are looked at for the first one: their own ionic strengths may change their order."""
    return brief.ranked.how_many if program.acid_rows else 1


def first_of_ranked(
    brief: Brief, screened: Screened, known: Polished | None = None, most: int | None = None
) -> First:
    """Return the first formula of what is ranked, each at its own ionic strength.

    Where a pH is dosed, that may change their order: as many are looked at as a shift could bring to the front that is
    ten times as large as any seen.

    Parameters
    ----------
    known : Polished, optional
        A formula of the program ranked: its choices need not be solved again.
    most : int, optional
        So many are looked at, at most; what they leave open is not conclusive.
    """
    program, tie = screened.program, brief.aim.tie if brief.aim.then else 0.0
    clock = NO_LIMIT if screened.session is None else screened.session.clock
    enough = listed_for(brief, program)
    how_many = enough if most is None else most
    seen = _Seen(screened, ties_of(program, brief.aim.then), tie)
    best = screened.first.objective
    reach = best + tie + SHIFTS * LEAST_SHIFT * max(1.0, abs(best))
    near, ranking = on_small_program(
        brief, program, screened.ranking(how_many, seen.ties, tie, seen.edge, reach)
    )
    ties = ties_of(near.program, brief.aim.then)
    proven, stopped, stays = True, False, False
    for found in ranking:
        if not isinstance(found, Candidate):
            stopped = found.status == "stopped"
            break
        if found.objective > seen.edge():
            break
        proven = proven and found.proven
        if known is not None and _solves(known, found, near.program, ties):
            polished: Polished | None = known
        else:
            polished = polish(near.program, near.values(found.values), ties, tie, found.best)
        if polished is not None:
            seen.add(found, polished)
        stays = proven and seen.first_stays()
        if stays:
            break
    exact = seen.exact
    conclusive = stays or len(seen.listed) == enough or screened.ceiling > seen.edge()
    first = exact[ordered(exact, ties, tie)[0]] if exact else None
    if first is not None and not stopped:
        first = at_own_strength(first, program, seen.ties, clock)
    return First(program, first, proven and not stopped, stopped, conclusive, seen.shift)


def _solves(known: Polished, found: Candidate, program: Program, ties: Ties) -> bool:
    """Tell whether a known formula is the best one of a structure's choices: no tie-break can move it."""
    counted = all(counts(count, base, program.form.integer) for count, base in ties)
    return counted and known.program is program and same_choices(program, known.values, found.values)


@dataclass(eq=False)
class _Seen:
    """Formulas of a ranking at their own ionic strengths, and which of those to come could still be the first.

    Attributes
    ----------
    shift : float
        The largest difference that a formula's own ionic strength made to its aim.
    """

    screened: Screened
    ties: Ties
    tie: float
    exact: list[Polished] = field(default_factory=list)
    shift: float = 0.0
    listed: list[Candidate] = field(default_factory=list)

    def add(self, found: Candidate, polished: Polished) -> None:
        """Take a formula, as the ranking has it and as it is."""
        self.listed.append(found)
        self.exact.append(polished)
        self.shift = max(self.shift, abs(polished.objective - found.objective))

    def edge(self) -> float:
        """Return the aim beyond which nothing can be the first."""
        if not self.exact:
            return np.inf
        best = min(item.objective for item in self.exact) + self.tie
        return best + self._reach(best)

    def first_stays(self) -> bool:
        """Tell whether the first formula stays the first, whatever the ranking lists behind it.

        Where ties go to the shorter, it does if it is within the allowance of what any of the others can come to,
        and none that could come within the allowance has fewer ingredients.
        """
        if len(self.exact) != 1 or len(self.ties) != 1 or self.screened.part.ratio_aim is not None:
            return False
        [(count, base)], [found], [first] = self.ties, self.listed, self.exact
        reach = self._reach(found.best)
        if not counts(count, base, self.screened.program.form.integer) or rough(first.program):
            return False
        if first.objective > found.best - reach + self.tie:
            return False
        fewer = round(float(count @ found.values)) - 1
        return not self.screened.fewer(count, fewer, max(first.objective, found.best) + self.tie + reach)

    def _reach(self, aim: float) -> float:
        return SHIFTS * self.shift + LEAST_SHIFT * max(1.0, abs(aim))


def first_of(brief: Brief, clock: Clock = NO_LIMIT) -> Polished | None:
    """Return the best formula of a brief at the ionic strength of its ranking; None where nothing holds everything.

    What tables of what-ifs are made of.

    Parameters
    ----------
    brief : Brief
    clock : Clock

    Raises
    ------
    OutOfTime
        If the time is over before it is proven to be the best.
    """
    program = prepare(brief, clock)
    then = ties_of(program, brief.aim.then)
    found = next(settled(program, program, rank(program, 1, then, brief.aim.tie, clock), then, clock))
    if not isinstance(found, Candidate):
        in_time(found)
        return None
    if not found.proven:
        raise OutOfTime
    return polish(program, found.values, then, brief.aim.tie, found.best)
