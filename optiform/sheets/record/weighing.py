"""Finds grams for a typed formula on the balance's grid, and checks them again."""

from __future__ import annotations

from optiform.answers.evaluate.judging import Judge
from optiform.answers.weigh.weighable import weigh as weighable
from optiform.brief.models import Brief, Weighing
from optiform.library.formulas import TypedFormula
from optiform.program import breaks, complete
from optiform.sheets.record.batch import Batch, weigh

CHECKED = (
    "Amounts are whole steps of the balance, as near to the formula as they can be; whatever the formula holds of "
    "library, law and brief was checked again with them."
)


def weighed_batch(formula: TypedFormula, brief: Brief, batch_g: float, weighing: Weighing) -> Batch:
    """Return the grams of a formula on one balance.

    Parameters
    ----------
    brief : Brief
        What the grams are checked against; what the formula itself breaks is let pass.
    batch_g : float  [g]
    weighing : Weighing
        Balance and error allowed; its own batch size does not count.

    Notes
    -----
    Where an amount is too light for the balance, or no amounts on the grid hold everything, each amount
    is rounded by itself and water takes the difference; a note says so. Nothing is raised to a weight
    that can be weighed: that would be another formula.
    """
    library, balance, error = brief.library, weighing.balance_g, weighing.error_percent
    plain = weigh(formula.lines, library, batch_g, balance, error_percent=error)
    if any(line.too_light for line in plain.lines):
        return plain
    amounts = library.arrays.amounts(formula.lines)
    program = Judge.of(brief).program(amounts)
    values = complete(program, amounts)
    waived = [item.requirement.key for item in breaks(program, values)]
    wanted = Weighing(batch_g=batch_g, balance_g=balance, error_percent=error)
    found = weighable(program, values, wanted, waived=waived, near=True)
    if found is None:
        note = "No amounts on this balance hold at this batch size everything that the formula holds."
        return plain.model_copy(update={"notes": (note, *plain.notes)})
    off = tuple(f"Held within half a step of the balance: {item.requirement.title}." for item in found.off)
    grams = {line.material: line.grams for line in found.lines}
    return weigh(
        formula.lines, library, batch_g, balance, error_percent=error, grams=grams, notes=(CHECKED, *off)
    )
