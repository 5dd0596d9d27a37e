"""Any formula typed in: every measure, and everything it breaks in library, law and brief."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.answer import Answer
from optiform.answers.broken import broken_of
from optiform.answers.cautions import cautions_for
from optiform.answers.describe import describe
from optiform.answers.judging import Judge
from optiform.answers.lots_drawn import lots_drawn
from optiform.brief.models import Brief
from optiform.program import complete, number

if TYPE_CHECKING:
    from optiform.library.arrays import Floats
    from optiform.library.formulas import TypedFormula
    from optiform.library.models import Library

FULL_WITHIN = 0.005


def evaluate(formula: TypedFormula, library: Library, brief: Brief | None = None) -> Answer:
    """Measure a formula and judge it; a formula that breaks rules is answered, not rejected.

    Parameters
    ----------
    formula : TypedFormula
        Lines of material id and % w/w; the total may be off 100.
    library : Library
    brief : Brief, optional
        Judged against as well; without one, the library's rules and the law (EU, rinse-off, face) alone.
    """
    amounts = library.arrays.amounts(formula.lines)
    asked = brief or Brief(title=formula.name or "a formula", library=library)
    lots = lots_drawn(asked, amounts)
    asked = asked.model_copy(update={"certainty": None})
    judge = Judge.of(asked)
    program = judge.program(amounts)
    values = complete(program, amounts)
    broken = broken_of(program, judge.breaks(program, amounts), amounts)
    notes = (*formula.notes, *program.notes, *_total_note(amounts))
    if brief is None:
        notes = (
            *notes,
            "Judged without a brief: by the library's rules and by the law for a rinse-off face wash in the EU.",
        )
    return Answer(
        question="evaluate",
        status="solved",
        proven=True,
        brief=asked,
        aim=asked.aim.measure,
        aim_unit=program.aim.unit,
        title=asked.title,
        library=library.name,
        formulas=(replace(describe(program, asked, values, breaks=broken), lots=lots),),
        notes=notes,
        cautions=cautions_for(asked),
    )


def _total_note(amounts: Floats) -> tuple[str, ...]:
    total = float(np.sum(amounts))
    if abs(total - 100.0) <= FULL_WITHIN:
        return ()
    return (f"The lines add up to {number(round(total, 4))} % w/w; everything is measured as typed.",)
