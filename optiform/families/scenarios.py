"""Finds the family again in each scenario: other batches, prices or suppliers, or without a material."""

from __future__ import annotations

from dataclasses import replace

from optiform.families.bills import purchase_of
from optiform.families.curve import costs_of, count_of
from optiform.families.explain import members
from optiform.families.model import Family, ScenarioResult
from optiform.families.plan import FamilyPlan, Scenario, goals_of
from optiform.families.products import NoFormula
from optiform.families.question import search_of
from optiform.library.overrides import with_prices
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.solver import Clock, OutOfTime


def scenario_results(plan: FamilyPlan, told: Family, clock: Clock) -> tuple[ScenarioResult, ...]:
    """Return the family of each scenario, its shelf compared with that of the plan."""
    here = {stand.material for stand in told.shelf}
    return tuple(_result(under(plan, scenario), scenario.title, here, clock) for scenario in plan.scenarios)


def under(plan: FamilyPlan, scenario: Scenario) -> FamilyPlan:
    """Return the plan as a scenario changes it."""
    library = with_prices(plan.library, scenario.prices) if scenario.prices else plan.library
    offers = tuple(
        _priced(offer, plan, scenario)
        for offer in plan.offers
        if offer.supplier not in scenario.without_supplier
    )
    gone = {offer.material for offer in plan.offers} - {offer.material for offer in offers}
    in_stock = {name for name in gone if plan.stock.get(name, 0.0) != 0.0}
    return replace(
        plan,
        library=library,
        offers=offers,
        suppliers=tuple(_asking(supplier, plan, scenario) for supplier in plan.suppliers),
        products=tuple(
            replace(
                product,
                grams=product.grams * scenario.times,
                brief=product.brief
                if not scenario.prices
                else product.brief.model_copy(
                    update={"library": with_prices(product.brief.library, scenario.prices)}
                ),
            )
            for product in plan.products
        ),
        at_most=scenario.at_most if scenario.at_most is not None else plan.at_most,
        without=(*plan.without, *scenario.without, *sorted(gone - in_stock)),
        scenarios=(),
        quotes=None,
    )


def _priced(offer: Offer, plan: FamilyPlan, scenario: Scenario) -> Offer:
    """Return a pack at the prices and rates of a scenario."""
    factor = scenario.supplier_times.get(offer.supplier, 1.0)
    if plan.quotes is not None:
        factor *= plan.quotes.factor(plan.quotes.packs.get(offer, ""), scenario.rates)
    before = plan.library.material[offer.material].price
    if offer.material in scenario.prices and before > 0:
        factor *= scenario.prices[offer.material] / before
    return offer if factor == 1.0 else offer.model_copy(update={"price": offer.price * factor})


def _asking(supplier: Supplier, plan: FamilyPlan, scenario: Scenario) -> Supplier:
    """Return the least order and delivery charge of a supplier at the rates of a scenario."""
    if plan.quotes is None:
        return supplier
    factor = plan.quotes.factor(plan.quotes.suppliers.get(supplier.name, ""), scenario.rates)
    asked = {"minimum_order": supplier.minimum_order * factor, "delivery": supplier.delivery * factor}
    return supplier if factor == 1.0 else supplier.model_copy(update=asked)


def _result(plan: FamilyPlan, title: str, here: set[str], clock: Clock) -> ScenarioResult:
    clock.say(title)
    try:
        search, wanted = search_of(plan, clock)
        best = search.best(wanted, goals_of(plan))
    except NoFormula:
        return ScenarioResult(title, "conflict", proven=True)
    except OutOfTime:
        return ScenarioResult(title, "stopped")
    if best is None:
        return ScenarioResult(title, "conflict", proven=True)
    told = members(search.products, best.held)
    purchase = purchase_of(plan, [member.formula for member in told])
    used = {line.material for line in purchase.lines} - {plan.library.water.id}
    return ScenarioResult(
        title=title,
        status="solved" if best.proven else "stopped",
        cash=purchase.cash,
        consumed=purchase.consumed,
        materials=count_of(search, best.held),
        costs=costs_of(best.held),
        enters=tuple(sorted(used - here)),
        leaves=tuple(sorted(here - used)),
        proven=best.proven,
    )
