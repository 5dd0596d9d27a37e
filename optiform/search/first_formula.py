"""The best formula of a brief alone, ties broken as the brief says: the one that `design` lists first."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from optiform.program import build
from optiform.search.by_system import in_time
from optiform.search.fixed_choices import ordered, polish, ties_of
from optiform.search.ionic_strength import prepare
from optiform.search.narrow.screening import MANY, screen
from optiform.search.narrow.small_program import looked_at
from optiform.search.ranking import Candidate, rank
from optiform.search.ties import settled, spread_of
from optiform.solver import NO_LIMIT, Clock, OutOfTime

if TYPE_CHECKING:
    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.search.fixed_choices import Polished

SHIFTS = 10.0
LEAST_SHIFT = 1e-4
"""Part of the aim by which a formula's own ionic strength is taken to shift it, where none shifted by more."""


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
    """

    program: Program = field(repr=False)
    polished: Polished | None = field(repr=False)
    proven: bool
    stopped: bool


def first_listed(brief: Brief, clock: Clock = NO_LIMIT) -> First:
    """Return the formula that `design` lists first.

    Where a pH is dosed, each is solved at its own ionic strength, which may change their order: as many are looked at
    as a shift could bring to the front that is ten times as large as any seen.

    Parameters
    ----------
    brief : Brief
    clock : Clock
        Once its time is over the search stops.
    """
    program = build(brief)
    how_many = brief.ranked.how_many if program.acid_rows else 1
    screened = screen(program, how_many if program.size >= MANY else 1, spread_of(brief, program), clock)
    program, tie = screened.program, brief.aim.tie
    near, ranking = looked_at(
        brief, program, screened.ranking(how_many, ties_of(program, brief.aim.then), tie)
    )
    ties = ties_of(near.program, brief.aim.then)
    exact: list[Polished] = []
    shift, proven, stopped = 0.0, True, False
    for found in ranking:
        if not isinstance(found, Candidate):
            stopped = found.status == "stopped"
            break
        reach = SHIFTS * shift + LEAST_SHIFT * max(1.0, abs(found.objective))
        if exact and found.objective > min(item.objective for item in exact) + tie + reach:
            break
        proven = proven and found.proven
        polished = polish(near.program, near.values(found.values), ties, tie, found.best)
        if polished is not None:
            exact.append(polished)
            shift = max(shift, abs(polished.objective - found.objective))
    if not exact:
        return First(program, None, proven=proven and not stopped, stopped=stopped)
    return First(program, exact[ordered(exact, ties, tie)[0]], proven=proven and not stopped, stopped=stopped)


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
