"""Proves that no formula is better than a known one, or finds the one that is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.reduction.part import part_of
from optiform.program.reduction.tighten import tightened
from optiform.search.first_formula import LEAST_SHIFT, SHIFTS, First, first_listed, first_of_ranked
from optiform.search.fixed_choices import beats, polish, ties_of
from optiform.search.incumbent import in_time, rounded_choices
from optiform.search.ionic_strength import confirmed
from optiform.search.narrow.candidates import worth_searching
from optiform.search.narrow.screening import Screened
from optiform.search.ranking import Candidate, best_expected, value_of, within
from optiform.search.ranking import best as best_of
from optiform.solver import BUDGET, Clock, Memory, Outcome, Reoptimising, Session, Within
from optiform.tolerances import CLEAR

if TYPE_CHECKING:
    from collections.abc import Hashable

    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.program.reduction.part import Part
    from optiform.search.fixed_choices import Polished

ROUNDS = 5
"""So often the search is done again, further out or from a better formula, before a fresh one is the quicker one."""
AT_ONCE = 120
"""Relaxations in which a formula is found at once, or a fresh search is the quicker one."""
SPARE = 1.5
"""The next shift may be so many times as large as the last one before the search has to be done again."""
WIDER = 10.0
"""By how much the search goes further beyond the known aim each time that it did not go far enough."""


def searched(
    brief: Brief, program: Program, known: Polished | None, clock: Clock, memory: Memory
) -> tuple[First, Memory]:
    """Return the formula that `design` lists first, and what to remember for the next proof.

    Parameters
    ----------
    known : Polished, optional
        A formula of the brief; without one, the best at the ionic strength of the program is found first.
    memory : Memory
        What the last proof left, of this brief or of any other.
    """
    known = known or best_at_strength(brief, program, clock, memory.again())
    found = None
    if known is not None:
        found, memory = first_from(brief, known, clock, memory)
    found = found or first_listed(brief, clock, program)
    if known is not None and found.polished is not None and beats(known, found.polished, brief.aim.then):
        found = replace(found, polished=known)
    return found, memory


def best_at_strength(brief: Brief, program: Program, clock: Clock, memory: Memory) -> Polished | None:
    """Return the best formula at a program's ionic strength, solved at its own; None where none is found at once."""
    tight = tightened(program)
    part = part_of(tight, np.ones(program.size, dtype=bool))
    if part.ratio_aim is not None or not part.possible:
        return None
    found = _reoptimising(part, program.form.rows, memory, clock, AT_ONCE).searched()
    if found is None or found.values is None or found.status != "solved":
        return None
    values = np.where(part.form.integer, np.round(found.values), found.values)
    return polish(program, part.full(values), ties_of(program, brief.aim.then), brief.aim.tie)


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
    """Return the best formula under a ceiling, at its own ionic strength, where to go on from it is worth more.

    It is better than the known one, by more than tie-breaks may give away or at another ionic strength.
    """
    aim = value_of(known.program.form.objective, known.program.ratio_aim, known.values)
    far = CLEAR * max(1.0, abs(aim)) + (brief.aim.tie if brief.aim.then else 0.0)
    if screened.first.status != "solved":
        return None
    if screened.first.objective > aim - far and confirmed(screened.program, screened.best_values) is None:
        return None
    ties = ties_of(screened.program, brief.aim.then)
    found = polish(screened.program, screened.best_values, ties, brief.aim.tie)
    return found if found is not None and found.objective < known.objective else None


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


def _reoptimising(
    part: Part, stated: int, memory: Memory, clock: Clock, budget: int = BUDGET
) -> Reoptimising:
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
    return Reoptimising(part.form, place, memory, clock, budget)


def near_best(program: Program, clock: Clock) -> tuple[Polished, float] | None:
    """Return a formula near the best one, and a bound that no mixture is below; None where no formula is found at once.

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
    found = polished_at(program, rounded_choices(session, program, mixed.values))
    return None if found is None else (found, mixed.objective)


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
