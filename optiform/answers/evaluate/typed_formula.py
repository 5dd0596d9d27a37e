"""Any formula typed in: every measure, and everything it breaks in library, law and brief."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.describe.broken import broken_of
from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.drawn_lots import lots_drawn
from optiform.answers.describe.formula import describe
from optiform.answers.evaluate.judging import Judge
from optiform.answers.model.answer import Answer
from optiform.brief.models import Brief
from optiform.program import complete, number

if TYPE_CHECKING:
    from optiform.answers.model.answer import Broken
    from optiform.library.arrays import Floats
    from optiform.library.formulas import TypedFormula
    from optiform.library.models import Library

FULL_WITHIN = 0.005
PLACES = 2
MOST_PLACES = 5
"""A figure with more decimals than that was not typed off a screen."""


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
    rounding = rounding_of(amounts)
    broken = broken_of(program, judge.breaks(program, amounts, rounding), amounts, rounding)
    missed = broken_of(program, judge.breaks(program, amounts), amounts)
    notes = (*formula.notes, *program.notes, *_total_note(amounts), *_rounding_note(missed, broken))
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
        matched=formula.matched,
    )


def rounding_of(amounts: Floats) -> Floats:
    """Return by how much each amount may be off the one that was meant: half of its last decimal, shape (n,).

    Figures count as typed with two decimals at least, so that "2" is not 1.5; a figure with more decimals than a
    screen prints is meant exactly.
    """
    return np.array([_half(float(amount)) for amount in amounts])


def _half(amount: float) -> float:
    decimals = -int(Decimal(repr(amount)).as_tuple().exponent) if amount else MOST_PLACES + 1
    return 0.0 if decimals > MOST_PLACES else 0.5 * 10.0 ** -max(decimals, PLACES)


def _rounding_note(missed: tuple[Broken, ...], broken: tuple[Broken, ...]) -> tuple[str, ...]:
    """Name what the amounts as typed miss by less than their last decimal, which is no break."""
    told = {item.requirement.key for item in broken}
    words = [
        f"{item.requirement.title} ({item.message})" for item in missed if item.requirement.key not in told
    ]
    return (f"Within the rounding of the typed figures: {'; '.join(words)}.",) if words else ()


def _total_note(amounts: Floats) -> tuple[str, ...]:
    total = float(np.sum(amounts))
    if abs(total - 100.0) <= FULL_WITHIN:
        return ()
    return (f"The lines add up to {number(round(total, 4))} % w/w; everything is measured as typed.",)
