"""Prices the limits that hold one formula where it is, in the user's units."""

from __future__ import annotations

from contextlib import suppress

from optiform.answers.describe.limits import Limit, tight
from optiform.answers.model.answer import Binding
from optiform.answers.price.marginal_costs import SAME, Prices
from optiform.search.fixed_choices import Polished
from optiform.solver import NO_LIMIT, Clock, OutOfTime
from optiform.tolerances import ROUNDING

ORIGINS = {"brief": 0, "library": 1, "law": 2, "balance": 3}


def explain(polished: Polished, clock: Clock = NO_LIMIT) -> tuple[Binding, ...]:
    """Return the limits that bind, dearest first within each origin, each priced by re-solves while there is time.

    Notes
    -----
    The costs hold with the formula's choices kept: which materials it is made of and which
    preservative system it has. A limit whose tightening and loosening both cost nothing is left out.
    """
    prices = Prices(polished, clock)
    found = []
    with suppress(OutOfTime):
        for limit in tight(polished):
            binding = price(prices, limit)
            if binding is not None:
                found.append(binding)
    found.sort(key=lambda b: (ORIGINS[b.requirement.origin], -abs(b.marginal_cost or 0.0), b.requirement.key))
    return tuple(found)


def price(prices: Prices, limit: Limit) -> Binding | None:
    """Price one limit from both sides; None if moving it either way changes nothing."""
    program, requirement, unit = prices.polished.program, limit.requirement, limit.requirement.unit
    towards = -1.0 if requirement.side == "at_most" else 1.0
    tightened = prices.side(limit, towards)
    loosened = prices.side(limit, -towards, tightened.cost)
    cost = tightened.cost
    back = None if loosened.cost is None else -loosened.cost
    scale = max(1.0, abs(prices.objective))
    if cost is not None and abs(cost) < ROUNDING * scale * 100 and abs(back or 0.0) < ROUNDING * scale * 100:
        return None
    together = (
        cost is not None
        and back is not None
        and abs(cost - back) <= SAME * max(abs(cost), abs(back)) + ROUNDING
    )
    ends = (loosened.reach if together else requirement.bound or 0.0, tightened.reach)
    return Binding(
        requirement=requirement,
        marginal_cost=_settled(cost),
        marginal_cost_back=_settled(back),
        unit=f"{program.aim.unit} per {unit.removesuffix('s') if unit.isalpha() else unit or 'unit'}",
        holds_from=min(ends),
        holds_to=max(ends),
        degenerate=not together,
    )


def _settled(cost: float | None) -> float | None:
    """Return a cost without the solver's dust."""
    if cost is None:
        return None
    return 0.0 if abs(cost) < ROUNDING * 10 else cost
