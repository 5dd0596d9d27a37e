"""The questions about formulas: which are possible, which is best, why, and what each wish costs."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Answer
from optiform.answers.tradeoff import TradeOff
from optiform.api.given import (
    AnyBrief,
    AnyFormula,
    AnyLibrary,
    at_home,
    brief_of,
    formula_of,
    ground_of,
    rework_of,
)
from optiform.solver import Progress


def design(
    brief: AnyBrief, *, seconds: float | None = None, full: bool = False, progress: Progress | None = None
) -> Answer:
    """Rank the best formulas of a brief, proven and explained; or say why there is none.

    Parameters
    ----------
    brief : path or Brief
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.
    full : bool
        Also tell what each wish costs when the whole formula may change, and which materials the
        first formula could do without.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the brief and its library.
    """
    from optiform.answers.design.formulas import design as ask

    return at_home(ask(brief_of(brief), seconds=seconds, in_full=full, progress=progress))


def check(brief: AnyBrief, *, seconds: float | None = None) -> Answer:
    """Tell whether a brief can be met: one formula that meets it, or the wishes that collide.

    Parameters
    ----------
    brief : path or Brief
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.

    Raises
    ------
    BadInput
        With every fault of the brief and its library.
    """
    from optiform.answers.check.feasibility import check as ask

    return at_home(ask(brief_of(brief), seconds=seconds))


def why(brief: AnyBrief, material: str, *, seconds: float | None = None) -> Answer:
    """Tell why a material is in the best formula, or what keeps it out and what it would cost.

    Parameters
    ----------
    brief : path or Brief
    material : str
        Its id, name or INCI name.
    seconds : float, optional
        Time after which what is known is returned, labelled unproven.

    Raises
    ------
    BadInput
        With every fault of the brief, or where no material is meant, or several.
    """
    from optiform.answers.price.why import why as ask

    return at_home(ask(brief_of(brief), material, seconds=seconds))


def evaluate(
    formula: AnyFormula, *, brief: AnyBrief | None = None, library: AnyLibrary | None = None
) -> Answer:
    """Measure a formula and list every rule, law and wish that it breaks.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
        A mapping has % w/w by material id.
    brief : path or Brief, optional
        Held against the formula as well; it names its own library.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files.
    """
    from optiform.answers.evaluate.typed_formula import evaluate as ask

    held, asked = ground_of(formula, brief, library)
    return at_home(ask(formula_of(formula, held), held, asked), asked)


def reformulate(
    start: AnyBrief | AnyFormula,
    *,
    aim: str | None = None,
    library: AnyLibrary | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> Answer:
    """Make a formula cheaper, gentler or free of a thing, and tell every difference.

    Parameters
    ----------
    start : path, Brief, mapping, TypedFormula or Formula
        A brief with a `[baseline]`; or, with `aim`, a formula.
    aim : str, optional
        Only with a formula: ``cheaper``, ``gentler`` or ``without:`` a tag, a material or an INCI name.
    library : path or Library, optional
        Only with a formula: what it draws on, the starter library by default.
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the files, or a brief without a baseline.
    """
    from optiform.answers.rework.reformulation import reformulate as ask

    asked = brief_of(start) if aim is None else rework_of(start, aim, library)
    return at_home(ask(asked, seconds=seconds, progress=progress))


def tradeoff(
    brief: AnyBrief,
    of: str = "cost",
    against: str = "mildness",
    *,
    third: tuple[str, Sequence[float]] | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> TradeOff:
    """Return the whole curve of one measure against another, exact and proven.

    Parameters
    ----------
    brief : path or Brief
        Its own limits on the two measures are let go.
    of, against : str
        What is improved, and what is bounded.
    third : (str, sequence of float), optional
        A third measure and its values: a curve for each.
    seconds : float, optional
        Time after which the part of the curve that is proven is returned.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the brief, or a measure that has no name here.
    """
    from optiform.answers.tradeoff import tradeoff as ask
    from optiform.solver import Clock

    chosen = None if third is None else (third[0], list(third[1]))
    return ask(brief_of(brief), of, against, third=chosen, clock=Clock.of(seconds, progress))
