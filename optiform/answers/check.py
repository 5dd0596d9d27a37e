"""Can a brief be met at all? A quick yes with one witness, or the conflict."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from optiform.answers.answer import Answer
from optiform.answers.cautions import cautions_for
from optiform.answers.describe import describe
from optiform.answers.first import first_listed
from optiform.answers.judging import judged

if TYPE_CHECKING:
    from optiform.brief.models import Brief


def check(brief: Brief, *, seconds: float | None = None) -> Answer:
    """Tell whether a brief can be met, with the formula that `design` lists first as the witness.

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
    found = first_listed(brief, deadline)
    program, best = found.program, found.polished
    if best is None and not found.stopped:
        from optiform.answers.conflict import conflict

        return conflict(brief, program, question="check", deadline=deadline)
    formulas, wrong = judged(brief, () if best is None else (describe(best.program, brief, best.values),))
    return Answer(
        question="check",
        status="stopped" if best is None else "solved",
        proven=found.proven,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        title=brief.title,
        library=brief.library.name,
        formulas=formulas,
        notes=(*wrong, *program.notes),
        cautions=cautions_for(brief),
    )
