"""States up to which pH a wash is made, where its brief does not say: there its uncharged acid is counted.

What is uncharged falls with the pH, and dose times uncharged part is no linear row. So the choice of an upper
end, in tenths, is part of the program: a brief that leaves the end open is a relaxation of every brief that states
one in tenths.
"""

from __future__ import annotations

import math

import numpy as np

from optiform.bounds import number
from optiform.chemistry import IONIC_STRENGTH_LIMIT
from optiform.library.models import PreservativeSystem
from optiform.measures import Side
from optiform.measures.acidity import HIGHEST_PH, LOWEST_PH
from optiform.measures.uncharged import Undissociated
from optiform.program.program import UpperEnds
from optiform.program.requirement import Key
from optiform.program.rows.draft import Draft
from optiform.program.rows.moves import MeasureMove
from optiform.tolerances import TOLERANCE
from optiform.vectors import Indices

STEPS = 10
"""Upper ends to choose from in one unit of pH."""

BASIC = 9.0
"""A pH above which next to nothing of the acids that preserve is uncharged."""


def counted_at(
    draft: Draft, measure: Undissociated, system: PreservativeSystem, side: Side
) -> list[tuple[float, Indices]]:
    """Return each pH at which a limit on uncharged acid may be counted under one system, with what chooses it."""
    if side == "at_least" and not draft.catalogue.conditions.promised:
        choice = _choice_of(draft, system)
        if choice is not None:
            return [(float(end), choice.columns[place : place + 1]) for place, end in enumerate(choice.ends)]
    return [(measure.limited(system, side), np.array([draft.systems[system.name]], dtype=np.intp))]


def _choice_of(draft: Draft, system: PreservativeSystem) -> UpperEnds | None:
    """Return the choice of an upper end under one system, made on first need; None where there is one end only."""
    if system.name in draft.upper_ends:
        return draft.upper_ends[system.name]
    ends = _ends(draft, system)
    if len(ends) > 1:
        columns = np.array([draft.column() for _ in ends], dtype=np.intp)
        taken = draft.systems[system.name]
        one = draft.require_own(Key("made-for", (system.name,)), "a wash is made for a pH up to one end")
        draft.add_row(one, [taken, *columns], [-1.0, *([1.0] * len(ends))], lower=0.0, upper=0.0)
        move = MeasureMove(draft.catalogue.find("pH"), "at_most")
        draft.upper_ends[system.name] = UpperEnds(taken, columns, np.array(ends), move)
        for end, column in zip(ends[1:], columns[1:], strict=True):
            choice = np.array([column], dtype=np.intp)
            draft.gates.setdefault(("at_most", end), []).append((_made_for(draft, system, end), choice))
    return draft.upper_ends.get(system.name)


def _made_for(draft: Draft, system: PreservativeSystem, end: float) -> int:
    """Return the requirement that a wash made for a pH up to some end keeps it."""
    return draft.require_choice(
        Key("system-pH", (system.name, number(end))),
        f"{system.name} in a wash made for a pH of at most {number(end)}",
        "library",
        movable=False,
        subject=(f"{system.name} at this dose",),
        why="its uncharged acid is enough up to there",
        source=system.source,
    )


def _ends(draft: Draft, system: PreservativeSystem) -> list[float]:
    """Return the upper ends to choose from, the highest first, down to where the least dose of a system is enough.

    How far down that is must not depend on a bound of the brief, which may move in place; nor on a composition, where
    what varies between lots is asked for.
    """
    low, top = system.working_pH
    low = LOWEST_PH if low is None else low
    ends = [HIGHEST_PH if top is None else top]
    first = math.ceil(STEPS * (BASIC if top is None else top) - TOLERANCE) - 1
    alike = draft.lots is not None or draft.probing
    for tenths in range(first, math.ceil(STEPS * low - TOLERANCE) - 1, -1):
        if not alike and _enough(draft, system, ends[-1]):
            break
        ends.append(tenths / STEPS)
    return ends


def _enough(draft: Draft, system: PreservativeSystem, end: float) -> bool:
    """Tell whether the least dose of a system brings all uncharged acid that is asked for, at any ionic strength."""
    if any(name.startswith("undissociated:") for name in draft.brief.targets):
        return False
    doses = np.zeros(len(draft.library.materials))
    for member, (floor, _) in system.members.items():
        doses[draft.position(member)] = floor
    for inci, least in system.undissociated_at_least.items():
        measure = draft.catalogue.find(f"undissociated:{inci}")
        if not isinstance(measure, Undissociated):
            return False
        if any(
            measure.at(end, strength).numerator @ doses < least for strength in (0.0, IONIC_STRENGTH_LIMIT)
        ):
            return False
    return True
