"""Finds one formula that meets a brief, which proves that its requirements hold together; or the conflict."""

from __future__ import annotations

from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.formula import describe
from optiform.answers.evaluate.judging import judged
from optiform.answers.model.answer import Answer
from optiform.brief.models import Brief
from optiform.program import build
from optiform.search.first_formula import first_listed
from optiform.solver import NO_LIMIT, Clock


def witness(brief: Brief, clock: Clock = NO_LIMIT) -> Answer:
    """Return the best formula of a brief as the witness that it can be met, or the conflict."""
    stated = build(brief)
    found = first_listed(brief, clock, stated)
    program, best = found.program, found.polished
    if best is None and not found.stopped:
        from optiform.answers.conflict.report import conflict

        return conflict(brief, program, question="check", clock=clock, stated=stated)
    formulas, wrong = judged(brief, () if best is None else (describe(best.program, brief, best.values),))
    return Answer(
        question="check",
        status="stopped" if best is None or found.stopped else "solved",
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
