"""Works out the base that all products share, and what it costs against a base for each."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from optiform.answers.model.answer import Formula
from optiform.families.curve import costs_of
from optiform.families.joint import Wanted
from optiform.families.model import BaseLine, FinishedProduct, Member, SharedBase
from optiform.families.plan import FamilyPlan, of_functions
from optiform.families.settling import Held
from optiform.families.solving import FamilySearch
from optiform.sheets.from_base import water_left, wets_gum
from optiform.solver import OutOfTime
from optiform.tolerances import TOLERANCE


def base_of(
    plan: FamilyPlan,
    search: FamilySearch,
    wanted: Wanted,
    goals: Sequence[str],
    held: Held,
    told: Sequence[Member],
) -> SharedBase | None:
    """Return the base of a family and how each product is finished; None where there is no base.

    Notes
    -----
    What it costs is known from the same family without the demand, where the time is enough for that.
    """
    if not plan.same:
        return None
    parts = base_parts(plan, [member.formula for member in told])
    if not parts:
        return None
    percent, total = sum(parts.values()), sum(product.grams for product in plan.products)
    others, costs = _of_their_own(search, wanted, goals, held)
    return SharedBase(
        percent=percent,
        lines=tuple(
            BaseLine(name, plan.library.material[name].name, share, share / 100.0 * total)
            for name, share in parts.items()
        ),
        grams=percent / 100.0 * total,
        finishes=tuple(
            FinishedProduct(
                product=product.title,
                base_g=percent / 100.0 * product.grams,
                lines=tuple(
                    (line.material, line.name, rest / 100.0 * product.grams)
                    for line in member.formula.lines
                    if (rest := line.percent - parts.get(line.material, 0.0)) > TOLERANCE
                ),
                own_base=None if others is None else others[place],
                here=member.here,
            )
            for place, (product, member) in enumerate(zip(plan.products, told, strict=True))
        ),
        costs=costs,
    )


def base_parts(plan: FamilyPlan, formulas: Sequence[Formula]) -> dict[str, float]:
    """Return the composition of the base, in the order of the library  [% w/w of the product].

    Notes
    -----
    It holds all that stands at the same percent in every product: the materials of the named functions, and what is
    the same besides; acid and base only where they are named, for they set each product's own pH. Of the water it
    takes what every product can spare; a liquid in which a gum of one product is slurried stays out. Water alone is no
    base.
    """
    library = plan.library
    amounts = [{line.material: line.percent for line in formula.lines} for formula in formulas]
    named, water = of_functions(library, plan.same), library.water.id
    parts = {}
    for material in library.materials:
        shares = [own.get(material.id, 0.0) for own in amounts]
        same = min(shares) > 0 and max(shares) - min(shares) <= TOLERANCE
        if (
            same
            and material.id != water
            and (material.id in named or material.function not in ("acid", "base"))
        ):
            parts[material.id] = min(shares)
    for product, formula in zip(plan.products, formulas, strict=True):
        for name in wets_gum(product.brief, formula, parts):
            parts.pop(name, None)
    if not parts:
        return {}
    spared = min(
        own.get(water, 0.0) - water_left(library, formula, parts)
        for own, formula in zip(amounts, formulas, strict=True)
    )
    if spared > TOLERANCE:
        parts[water] = spared
    return parts


def _of_their_own(
    search: FamilySearch, wanted: Wanted, goals: Sequence[str], held: Held
) -> tuple[tuple[float, ...] | None, float | None]:
    """Return the products' costs with a base for each, and what one base for all costs the family."""
    with suppress(OutOfTime):
        apart = search.best(replace(wanted, same=()), goals)
        if apart is not None:
            return costs_of(apart.held), held.of(goals[0]) - apart.held.of(goals[0])
    return None, None
