"""Proves that no formula is better than a known one, or finds the one that is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.reduction.part import part_of
from optiform.search.first_formula import LEAST_SHIFT, SHIFTS, First, first_listed, first_of_ranked
from optiform.search.fixed_choices import beats, polish, same_choices, ties_of
from optiform.search.incumbent import in_time, rounded_choices
from optiform.search.ionic_strength import confirmed
from optiform.search.narrow.candidates import few_of, worth_searching
from optiform.search.narrow.screening import Screened
from optiform.search.ranking import Candidate, best_expected, value_of, within
from optiform.search.ranking import best as best_of
from optiform.solver import BUDGET, Clock, Memory, Outcome, OutOfTime, Reoptimising, Session, Within
from optiform.tolerances import ROUNDING

if TYPE_CHECKING:
    from collections.abc import Hashable

    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.program.reduction.part import Part
    from optiform.search.fixed_choices import Polished

ROUNDS = 5
"""So often the search is done again, further out or from a better formula, before a fresh one is the quicker one."""
SPARE = 1.5
"""The next shift may be so many times as large as the last one before the search has to be done again."""
FAR = 1e-3
"""Part of the aim by which another formula has to be better, for the search to begin there."""
FEW = 12
"""Relaxations after a move that is no bound in its place, before the solver's own search goes on."""
WIDER = 10.0
"""By how much the search goes further beyond the known aim each time that it did not go far enough."""


def searched(
    brief: Brief, program: Program, known: Polished | None, clock: Clock, memory: Memory
) -> tuple[First, Memory]:
    """Return the formula that `design` lists first, and what to remember for the next proof.

    Parameters
    ----------
    known : Polished, optional
        A formula of the brief; without one, the best of few materials is found first.
    memory : Memory
        What the last proof left, of this brief or of any other.
    """
    known = known or _of_few(brief, program, clock)
    found = None
    if known is not None:
        found, memory = first_from(brief, known, clock, memory)
    found = found or first_listed(brief, clock, program)
    if known is not None and found.polished is not None and beats(known, found.polished, brief.aim.then):
        found = replace(found, polished=known)
    return found, memory.again(BUDGET)


def searched_anew(
    brief: Brief, program: Program, known: Polished | None, clock: Clock, memory: Memory
) -> tuple[First, Memory]:
    """Return what `searched` returns, where more moved than a bound: a known formula may be far from the best.

    Leaves then bound little, so that the solver's own search is soon the quicker one, and at once where no formula is
    known.
    """
    if known is None:
        return first_listed(brief, clock, program), memory.again(BUDGET)
    known = _rounded(brief, known, clock) or known
    return searched(brief, program, known, clock, memory.again(min(memory.left, FEW)))


def _of_few(brief: Brief, program: Program, clock: Clock) -> Polished | None:
    """Return the best formula of few materials, those with the lowest bounds; None where they make none."""
    few = few_of(program, 1, clock)
    if few is None or few.first.values is None or few.first.status != "solved":
        return None
    values = few.part.full(np.where(few.part.form.integer, np.round(few.first.values), few.first.values))
    return polish(few.program, values, ties_of(few.program, brief.aim.then), brief.aim.tie)


def _rounded(brief: Brief, known: Polished, clock: Clock) -> Polished | None:
    """Return the formula that the best mixture is rounded to; None where it is not far better than the known one."""
    program = known.program
    try:
        outcome, _ = _rounded_mixture(program, clock)
    except OutOfTime:
        return None
    far = known.objective - brief.aim.tie - FAR * max(1.0, abs(known.objective))
    if outcome.values is None or outcome.objective > far:
        return None
    values = np.where(program.form.integer, np.round(outcome.values), outcome.values)
    found = polish(program, values, ties_of(program, brief.aim.then), brief.aim.tie)
    return found if found is not None and found.objective < known.objective else None


def first_from(brief: Brief, known: Polished, clock: Clock, memory: Memory) -> tuple[First | None, Memory]:
    """Return the formula that `design` lists first, found by way of a formula that is known, and what to remember.

    None where that way leads nowhere: the brief must then be searched as a whole.

    Notes
    -----
    The reduced costs of the best mixture leave out what cannot be in a formula under a ceiling: the known aim, with
    the allowance of the tie-breaks and what own ionic strengths may shift. Where a better formula is found under it,
    or the first one could lie above it after all, the search is done again.
    """
    spread, shift, wider = 2.0 * brief.aim.tie if brief.aim.then else 0.0, 0.0, 1.0
    for _ in range(ROUNDS):
        memory = memory.again()
        aim = value_of(known.program.form.objective, known.program.ratio_aim, known.values)
        least = 2.0 * LEAST_SHIFT * max(1.0, abs(aim)) + SPARE * SHIFTS * shift
        ceiling = aim + spread + wider * least
        screened = under(known, ceiling, clock, memory)
        if screened is None:
            return None, memory
        better = _better(brief, screened, known)
        if better is not None:
            known = better
            continue
        found = first_of_ranked(brief, screened, known)
        if found.polished is None and not found.stopped:
            return None, memory
        if found.conclusive or found.stopped:
            return found, memory
        wider = 1.0 if found.shift > shift else WIDER * wider
        shift = max(shift, found.shift)
    return None, memory


def _better(brief: Brief, screened: Screened, known: Polished) -> Polished | None:
    """Return the best formula under a ceiling, where it asks for another ionic strength and is better there."""
    program, values = screened.program, screened.best_values
    if screened.first.status != "solved" or same_choices(program, known.values, values):
        return None
    if confirmed(program, values) is None:
        return None
    far = known.objective - ROUNDING * max(1.0, abs(known.objective))
    found = polish(program, values, ties_of(program, brief.aim.then), brief.aim.tie)
    return found if found is not None and found.objective < far else None


def under(known: Polished, ceiling: float, clock: Clock, memory: Memory | None = None) -> Screened | None:
    """Return what holds every formula under a ceiling, with the best of them; None where no mixture bounds it.

    Parameters
    ----------
    memory : Memory, optional
        What the last proof left; without it the solver searches.
    """
    wanted = worth_searching(known.program, known.values, ceiling, clock)
    if wanted is None:
        return None
    part, program = part_of(*wanted), known.program
    session = (
        Session(part.form, clock=clock, arrays=True)
        if memory is None
        else _reoptimising(part, program.form.rows, memory, clock)
    )
    session.add_row(within(part.form.objective, part.ratio_aim, ceiling))
    aim = value_of(program.form.objective, program.ratio_aim, known.values)
    here = Outcome("solved", aim, aim, known.values[part.columns])
    first = best_expected(session, part.form.objective, part.ratio_aim, here)
    expected = Candidate(part.full(known.values[part.columns]), aim, True, aim)
    left_out = program.size - int(wanted[1].sum())
    return Screened(program, part, session, first, left_out, ceiling, (), (expected,))


def _reoptimising(part: Part, stated: int, memory: Memory, clock: Clock) -> Reoptimising:
    """Return a session that searches a part of a tightened program from the leaves of earlier searches.

    Parameters
    ----------
    stated : int
        How many rows the program has without those that only tighten it.
    """
    tight = part.program
    keys = {place: key for key, place in tight.index_of.items()}
    seen = [0] * len(keys)
    names: list[Hashable] = []
    for owner in tight.row_requirement[:stated].tolist():
        names.append((keys[owner], seen[owner]))
        seen[owner] += 1
    names += [tight.form.row(row).indices.tobytes() for row in range(stated, tight.form.rows)]
    place = Within(part.columns, part.rows, tight.form.columns, tuple(names))
    return Reoptimising(part.form, place, memory, clock)


def near_best(program: Program, clock: Clock) -> tuple[Polished, float] | None:
    """Return a formula near the best one, and a bound that no mixture is below; None where no formula is found at once.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    outcome, bound = _rounded_mixture(program, clock)
    found = polished_at(program, outcome)
    return None if found is None else (found, bound)


def _rounded_mixture(program: Program, clock: Clock) -> tuple[Outcome, float]:
    """Return the best mixture with its choices taken whole, and a bound that no mixture is below."""
    session = Session(program.form, clock=clock, arrays=True)
    with session.trial():
        session.relax()
        mixed = in_time(best_of(session, program.form.objective, program.ratio_aim))
    if mixed.values is None:
        return mixed, mixed.objective
    return rounded_choices(session, program, mixed.values), mixed.objective


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
