"""Finds amounts that a balance can weigh, as near to a typed formula as its steps allow."""

from __future__ import annotations

from dataclasses import replace

from optiform.answers.evaluate.judging import Judge
from optiform.answers.evaluate.typed_formula import FULL_WITHIN, evaluate
from optiform.answers.model.answer import Answer
from optiform.answers.weigh.unweighable import sentences, why_not
from optiform.answers.weigh.weighable import weigh
from optiform.brief.models import Brief, Weighing
from optiform.brief.stated_brief import stated_brief
from optiform.faults import BadInput, Fault
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.program import breaks, complete


def weigh_formula(
    formula: TypedFormula, library: Library, weighing: Weighing, brief: Brief | None = None
) -> Answer:
    """Return a typed formula with the grams that this balance can weigh, or why it cannot.

    Parameters
    ----------
    formula : TypedFormula
        Its lines add up to 100 %.
    brief : Brief, optional
        Held as well; what the formula breaks as written is told, and not asked of the grams either.

    Raises
    ------
    BadInput
        If the lines do not add up to 100 %.
    """
    if abs(formula.total - 100.0) > FULL_WITHIN:
        message = f"the lines add up to {formula.total:.6g} %"
        raise BadInput([Fault(formula.file, "percent", message, allowed="100 %, or q.s. in one line")])
    answer = evaluate(formula, library, brief)
    asked = brief or stated_brief(formula, library)
    amounts = library.arrays.amounts(formula.lines)
    program = Judge.of(asked).program(amounts)
    values = complete(program, amounts)
    waived = [item.requirement.key for item in breaks(program, values)]
    found = weigh(program, values, weighing, waived=waived, near=True)
    told = answer.formulas[0]
    if found is not None:
        told = replace(told, weighable=found)
    else:
        refused = why_not(program, values, weighing, waived=waived, near=True)
        told = replace(told, not_weighable=refused, notes=(*told.notes, *sentences(refused)))
    return replace(answer, question="weigh", formulas=(told,))
