"""Evaluates any typed formula: every measure, and everything that it breaks."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np

from optiform.answers.describe.broken import broken_of
from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.drawn_lots import lots_drawn
from optiform.answers.describe.formula import describe
from optiform.answers.evaluate.judging import Judge
from optiform.answers.model.answer import Answer, Broken
from optiform.bounds import number
from optiform.brief.bench import base_of_formula
from optiform.brief.models import Brief
from optiform.brief.stated_brief import stated_brief, told_ground
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.program import complete
from optiform.vectors import Floats

FULL_WITHIN = 0.005
"""A formula this near to a total of 100 % is whole, and can be weighed."""

PLACES = 2
MOST_PLACES = 5
"""A figure with more decimals than that was not typed off a screen."""
GRAM_PLACES = 9
"""Decimals to which a mass in grams is found again from its percent."""


def evaluate(formula: TypedFormula, library: Library, brief: Brief | None = None) -> Answer:
    """Measure a formula and judge it; a formula that breaks rules is answered, not rejected.

    Parameters
    ----------
    formula : TypedFormula
        Lines of material id and % w/w; the total may be off 100.
    brief : Brief, optional
        Judged against as well; without one, the library's rules and the law alone, as the file of the formula
        states them (EU, rinse-off, face where it states nothing).
    """
    amounts = library.arrays.amounts(formula.lines)
    asked = base_of_formula(brief or stated_brief(formula, library), amounts)
    lots = lots_drawn(asked, amounts)
    asked = asked.model_copy(update={"certainty": None})
    judge = Judge.of(asked)
    program = judge.program(amounts)
    values = complete(program, amounts)
    rounding = rounding_of(amounts, formula.grams)
    broken = broken_of(program, judge.breaks(program, amounts, rounding), amounts, rounding)
    missed = broken_of(program, judge.breaks(program, amounts), amounts)
    several = (asked.known.told,) if asked.known.told else ()
    notes = (*formula.notes, *several, *program.notes, *_total_note(amounts), *_rounding_note(missed, broken))
    if brief is None:
        notes = (*notes, told_ground(asked))
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


def rounding_of(amounts: Floats, grams: float | None = None) -> Floats:
    """Return by how much each amount may be off the one that was meant: half of its last decimal, shape (n,) [% w/w].

    Figures count as typed with two decimals of a percent at least, so that "2" is not 1.5; a figure with more
    decimals than a screen prints is meant exactly.

    Parameters
    ----------
    amounts : ndarray, shape (n,)  [% w/w]
    grams : float, optional
        Mass of the batch [g], where the figures were typed in grams.
    """
    if grams is None:
        return np.array([_half(float(amount)) for amount in amounts])
    typed = np.array([_half(round(float(amount) * grams / 100.0, GRAM_PLACES), 0) for amount in amounts])
    return np.minimum(typed * 100.0 / grams, 0.5 * 10.0**-PLACES)


def _half(amount: float, places: int = PLACES) -> float:
    """Return half of the last decimal of a figure, of at least so many decimals; 0 where it has too many."""
    decimals = -int(Decimal(repr(amount)).as_tuple().exponent) if amount else MOST_PLACES + 1
    return 0.0 if decimals > MOST_PLACES else 0.5 * 10.0 ** -max(decimals, places)


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
