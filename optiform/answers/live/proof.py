"""Proves that no formula is better than a known one, or finds the one that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.program import SparseRow
from optiform.program.reduction.bounding import bounds
from optiform.program.reduction.part import part_of
from optiform.program.reduction.tighten import tightened
from optiform.search.cardinality import below_count, counts
from optiform.search.first_formula import LEAST_SHIFT, First, first_of_ranked
from optiform.search.fixed_choices import polish, ties_of
from optiform.search.incumbent import in_time, rounded_choices
from optiform.search.ionic_strength import confirmed, ground
from optiform.search.narrow.candidates import below, mixture
from optiform.search.narrow.screening import Screened
from optiform.search.ranking import Candidate, best_expected, value_of, within
from optiform.search.ranking import best as best_of
from optiform.solver import Clock, Outcome, Session

if TYPE_CHECKING:
    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.program.reduction.part import Part
    from optiform.search.fixed_choices import Polished, Ties
    from optiform.vectors import Flags

ROUNDS = 3
MOST = 0.6
"""Part of the materials under a known aim from which on a fresh search, which narrows them, is quicker."""

WIDER = 10.0
"""By how much the search goes further beyond the known aim each time that it did not go far enough."""


def first_from(brief: Brief, known: Polished, clock: Clock) -> First | None:
    """Return the formula that `design` lists first, found by way of a formula that is known.

    None where that way leads nowhere: the brief must then be searched as a whole.

    Notes
    -----
    The reduced costs of the best mixture leave out what cannot be in a formula under a ceiling: the known aim, with
    the allowance of the tie-breaks and what own ionic strengths may shift. Where the first formula could lie above it
    after all, or asks for another ionic strength, the search is done again.
    """
    least = 2.0 * LEAST_SHIFT
    for _ in range(ROUNDS):
        aim = value_of(known.program.form.objective, known.program.ratio_aim, known.values)
        ceiling = aim + brief.aim.tie + least * max(1.0, abs(aim))
        screened = under(known, ceiling, clock, ties_of(known.program, brief.aim.then), most=MOST)
        if screened is None:
            return None
        better = _confirmed(brief, screened)
        if better is not None:
            known = better
            continue
        found = first_of_ranked(brief, screened, known)
        if found.polished is None and not found.stopped:
            return None
        if found.conclusive or found.stopped:
            return found
        least *= WIDER
    return None


def _confirmed(brief: Brief, screened: Screened) -> Polished | None:
    """Return the best formula at its own ionic strength, where that is another one than it was searched at."""
    if screened.first.status != "solved" or confirmed(screened.program, screened.best_values) is None:
        return None
    ties = ties_of(screened.program, brief.aim.then)
    return polish(screened.program, screened.best_values, ties, brief.aim.tie)


def under(
    known: Polished, ceiling: float, clock: Clock, ties: Ties = (), most: float = 1.0
) -> Screened | None:
    """Return what holds every formula under a ceiling, with the best of them.

    None where no mixture bounds it, or more than a part `most` of the materials may be in such a formula.
    """
    wanted = _worth_searching(known, ceiling, clock)
    if wanted is None or wanted[1].sum() > most * known.program.size:
        return None
    part = part_of(*wanted)
    session = Session(part.form, clock=clock, arrays=True)
    session.add_row(within(part.form.objective, part.ratio_aim, ceiling))
    _cut_shorter(session, part, known, ceiling, ties)
    program = known.program
    aim = value_of(program.form.objective, program.ratio_aim, known.values)
    here = Outcome("solved", aim, aim, known.values[part.columns])
    first = best_expected(session, part.form.objective, part.ratio_aim, here)
    expected = Candidate(part.full(known.values[part.columns]), aim, True, aim)
    left_out = program.size - int(wanted[1].sum())
    return Screened(program, part, session, first, left_out, ceiling, (), (expected,))


def _worth_searching(
    known: Polished, ceiling: float, clock: Clock
) -> tuple[Program, Flags, list[str]] | None:
    """Return a tightened program, the materials of a formula under a ceiling, and the systems of none."""
    program = known.program
    tight = tightened(program)
    mixed = mixture(tight, clock)
    if mixed is None:
        return None
    used = known.values[: program.size] > 0
    free = program.own_choice < 0
    shut: list[str] = []
    wanted: Flags | None
    if program.ratio_aim is None:
        limits = bounds(tight, mixed[2], mixed[1])
        wanted = limits.using <= ceiling
        shut = [name for name, bound in limits.systems.items() if bound > ceiling]
    else:
        wanted = below(tight, ceiling, clock)
    if wanted is None:
        return None
    return tight, wanted | free | used, shut


def _cut_shorter(session: Session, part: Part, known: Polished, ceiling: float, ties: Ties) -> None:
    """Add the least number of ingredients under the ceiling as a cut, where ties go to the shorter.

    Whatever asks for fewer is refused at once from then on, and the search for the best gets easier too.
    """
    if len(ties) != 1 or part.ratio_aim is not None:
        return
    count, base = ties[0]
    if not counts(count, base, known.program.form.integer):
        return
    here, least = count[part.columns], round(float(count @ known.values))
    while least > 0:
        fewer = below_count(session, part.form.objective, here, least - 1, ceiling)
        if fewer.status == "infeasible":
            break
        if fewer.values is None or fewer.status == "stopped":
            return
        least = round(float(here @ fewer.values))
    present = np.flatnonzero(here)
    session.add_row(SparseRow(present, here[present], float(least), np.inf))


def near_best(program: Program, clock: Clock) -> tuple[Polished, bool] | None:
    """Return a formula near the best one, and whether no mixture is better; None where there is none.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    session = Session(program.form, clock=clock, arrays=True)
    with session.trial():
        session.relax()
        mixed = in_time(best_of(session, program.form.objective, program.ratio_aim))
    if mixed.values is None:
        return None
    polished = polished_at(program, rounded_choices(session, program, mixed.values)) or polished_at(
        program, ground(program, clock).first
    )
    if polished is None:
        return None
    return polished, polished.objective <= mixed.objective + LEAST_SHIFT * max(1.0, abs(mixed.objective))


def polished_at(program: Program, outcome: Outcome) -> Polished | None:
    """Return the formula of a solution at its own ionic strength; None where there is no solution.

    Raises
    ------
    OutOfTime
        If the search was stopped before anything was found.
    """
    if in_time(outcome).values is None or outcome.values is None:
        return None
    return polish(program, np.where(program.form.integer, np.round(outcome.values), outcome.values))
