"""The family of a plan, with its scenarios; and one product as a family of its own."""

from __future__ import annotations

from dataclasses import replace

from optiform.brief.models import Brief
from optiform.families.model import Family
from optiform.families.plan import FamilyPlan, Goal, Planned
from optiform.families.question import family
from optiform.families.scenarios import cases_of
from optiform.sheets.purchase.shopping import offers_of, stock_of
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
    return replace(found, cases=cases_of(plan, found, clock)) if found.products else found


def plan_of(brief: Brief, grams: float, goal: Goal) -> FamilyPlan:
    """Return the plan of one product: the formula to buy for, with the packs and stock of its library.

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
