"""Answers the questions that a plan is asked: its family with its scenarios, and its batch records."""

from __future__ import annotations

from dataclasses import replace

from optiform.brief.models import Brief
from optiform.families.model import Family
from optiform.families.plan import FamilyPlan, Goal, Planned
from optiform.families.question import family
from optiform.families.scenarios import scenario_results
from optiform.families.shared_base import base_parts
from optiform.library.formulas import TypedFormula
from optiform.library.models import Frozen
from optiform.sheets.from_base import ProductFromBase, records_from_base
from optiform.sheets.purchase.shopping import offers_of, stock_of
from optiform.sheets.sheet import Sheet, SheetPart, make_sheet
from optiform.showing import Showing
from optiform.solver import Clock, Progress


def ask_family(
    plan: FamilyPlan,
    *,
    seconds: float | None = None,
    whole_curve: bool = False,
    progress: Progress | None = None,
) -> Family:
    """Return the best family of a plan, proven and explained; or why there is none.

    Parameters
    ----------
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.
    whole_curve : bool
        Also find the least money for every number of materials.
    progress : callable, optional
        Told one short line at each step of long work.
    """
    clock = Clock.of(seconds, progress)
    found = family(plan, clock, whole_curve=whole_curve)
    return replace(found, scenarios=scenario_results(plan, found, clock)) if found.products else found


def plan_of(brief: Brief, grams: float, goal: Goal) -> FamilyPlan:
    """Return a plan of one product, with the packs and stock of its library.

    `grams` is in [g].
    """
    library = brief.library
    return FamilyPlan(
        title=brief.title,
        library=library,
        products=(Planned(brief.title, brief, grams),),
        minimise=goal,
        stock=stock_of(library),
        offers=offers_of(library),
        file=brief.file,
    )


class Making(Showing, Frozen):
    """The batch records of a family; a shared base comes first.

    Attributes
    ----------
    base : bool
        Whether the first is that of a shared base.
    """

    title: str
    base: bool
    sheets: tuple[Sheet, ...]


def making_of(found: Family, balance_g: float | None = None) -> Making:
    """Return the batch records of a family.

    Parameters
    ----------
    found : Family
        One that was found; else there is nothing to make.
    balance_g : float, optional  [g]
        Readability of the balance; what the briefs say, or 0.01, by default.
    """
    products = [
        ProductFromBase(
            member.title, planned.brief, member.formula, planned.grams / planned.times, planned.times
        )
        for planned, member in zip(found.plan.products, found.products, strict=False)
    ]
    if found.base is not None:
        parts = base_parts(found.plan, [product.formula for product in products])
        spare = found.plan.spare_percent
        sheets = records_from_base(found.title, parts, products, balance_g=balance_g, spare_percent=spare)
        return Making(title=found.title, base=True, sheets=sheets)
    return Making(
        title=found.title, base=False, sheets=tuple(_whole(product, balance_g) for product in products)
    )


def _whole(product: ProductFromBase, balance_g: float | None) -> Sheet:
    """Return the record of a product that is made in one go."""
    lines = tuple((line.material, line.percent) for line in product.formula.lines)
    parts: tuple[SheetPart, ...] = ("batch",)
    typed = TypedFormula(product.title, lines, sum(percent for _, percent in lines))
    return make_sheet(
        typed,
        product.brief.library,
        product.batch_g,
        brief=product.brief,
        balance_g=balance_g,
        parts=parts,
    )
