"""One base that is made once and split over all products, and what it costs each against a base of its own."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from optiform.families.curve import costs_of
from optiform.families.joint import Wanted
from optiform.families.model import Base, BaseLine, Finish
from optiform.families.plan import FamilyPlan, of_functions
from optiform.families.solving import FamilySearch, Held
from optiform.solver import OutOfTime
from optiform.tolerances import NOISE


def base_of(
    plan: FamilyPlan, search: FamilySearch, wanted: Wanted, goals: Sequence[str], held: Held
) -> Base | None:
    """Return the base of a family and how each product is finished; None where the plan asks for no base.

    Notes
    -----
    The base holds the materials of the named functions, and as much water as all products have in common. What it
    costs is known from the same family without the demand, where the time is enough for that.
    """
    if not plan.same:
        return None
    library, amounts = plan.library, held.amounts
    index = library.arrays.material_index
    named = [name for name in of_functions(library, plan.same) if amounts[0][index[name]] > 0]
    parts = {name: float(amounts[0][index[name]]) for name in named}
    parts[library.water.id] = min(float(own[index[library.water.id]]) for own in amounts)
    percent, total = sum(parts.values()), sum(product.grams for product in plan.products)
    others, costs = _of_their_own(search, wanted, goals, held)
    return Base(
        percent=percent,
        lines=tuple(
            BaseLine(name, library.material[name].name, share, share / 100.0 * total)
            for name, share in sorted(parts.items(), key=lambda pair: index[pair[0]])
            if share > 0
        ),
        grams=percent / 100.0 * total,
        finishes=tuple(
            Finish(
                product=product.title,
                base_g=percent / 100.0 * product.grams,
                lines=tuple(
                    (material.id, material.name, rest / 100.0 * product.grams)
                    for material, amount in zip(library.materials, own, strict=True)
                    if (rest := float(amount) - parts.get(material.id, 0.0)) > NOISE
                ),
                own_base=None if others is None else others[place],
                here=here,
            )
            for place, (product, own, here) in enumerate(
                zip(plan.products, amounts, costs_of(held), strict=True)
            )
        ),
        costs=costs,
    )


def _of_their_own(
    search: FamilySearch, wanted: Wanted, goals: Sequence[str], held: Held
) -> tuple[tuple[float, ...] | None, float | None]:
    """Return each product's cost where each has a base of its own, and what one base for all costs the family."""
    with suppress(OutOfTime):
        apart = search.best(replace(wanted, same=()), goals)
        if apart is not None:
            return costs_of(apart.held), held.of(goals[0]) - apart.held.of(goals[0])
    return None, None
