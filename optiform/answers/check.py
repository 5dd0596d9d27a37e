"""Can a brief be met at all? A quick yes with one witness, or the conflict."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from optiform.answers.answer import Answer
from optiform.answers.cautions import CAUTIONS
from optiform.answers.describe import describe
from optiform.answers.polish import polish
from optiform.answers.rank import Candidate
from optiform.answers.screen import screen
from optiform.program import build

if TYPE_CHECKING:
    from optiform.brief.models import Brief

TRIES = 5
"""Structures that are tried where the best one cannot hold its pH at its own ionic strength."""


def check(brief: Brief, *, seconds: float | None = None) -> Answer:
    """Tell whether a brief can be met, with the best formula as the witness.

    Parameters
    ----------
    brief : Brief
    seconds : float, optional
        Time limit.
    """
    deadline = None if seconds is None else time.monotonic() + seconds
    if brief.certainty is not None:
        from optiform.answers.certain import sure

        return sure(brief, lambda asked: witness(asked, deadline))
    return witness(brief, deadline)


def witness(brief: Brief, deadline: float | None = None) -> Answer:
    """Return the best formula of a brief as the witness that it can be met, or the conflict."""
    stated = build(brief)
    exact, proven, stopped = None, False, False
    for tries in (1, TRIES):
        screened = screen(stated, tries, deadline=deadline)
        program, first = screened.program, screened.first
        for found in screened.ranking(tries):
            if not isinstance(found, Candidate):
                stopped = found.status == "stopped"
                break
            exact, proven = polish(program, found.values), found.proven
            if exact is not None:
                break
        if exact is not None or stopped or not first.found:
            break
    if exact is None and not stopped:
        from optiform.answers.conflict import conflict

        return conflict(brief, program, question="check", deadline=deadline)
    return Answer(
        question="check",
        status="stopped" if exact is None else "solved",
        proven=proven,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        title=brief.title,
        library=brief.library.name,
        formulas=() if exact is None else (describe(exact.program, brief, exact.values),),
        notes=program.notes,
        cautions=CAUTIONS,
    )
