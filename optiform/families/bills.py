"""Compares three bills: products bought one by one, the same formulas bought together, the family."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optiform.answers.model.formula import Formula
from optiform.families.model import Bill, Member
from optiform.families.plan import FamilyPlan, money_of
from optiform.sheets.purchase.shopping import Make, Shopping, shopping


def purchase_of(
    plan: FamilyPlan,
    formulas: Sequence[Formula],
    stock: Mapping[str, float | None] | None = None,
    titles: Sequence[str] | None = None,
) -> Shopping:
    """Return the purchase for some formulas of a plan's products.

    Parameters
    ----------
    stock : mapping of str to float or None  [g], optional
        In place of that of the plan.
    titles : sequence of str, optional
        Of the products that are made; all by default.

    Notes
    -----
    However short the time of the question is, a purchase is finished: ways to work are compared by what they cost.
    """
    made = [product for product in plan.products if titles is None or product.title in titles]
    found = shopping(
        [
            Make(
                title=product.title,
                lines=tuple((line.material, line.percent) for line in formula.lines),
                batch_g=product.grams,
            )
            for product, formula in zip(made, formulas, strict=True)
        ],
        plan.library,
        stock=plan.stock if stock is None else stock,
        offers=plan.offers,
        suppliers=plan.suppliers,
        aim="consumed" if money_of(plan) == "consumed" else "cash",
        spare_percent=plan.spare_percent,
    )
    paid = () if plan.quotes is None else plan.quotes.paid(found)
    return found.model_copy(update={"title": plan.title, "notes": (*paid, *found.notes)})


def bills(plan: FamilyPlan, members: Sequence[Member], purchase: Shopping) -> tuple[Bill, Bill, Bill]:
    """Return the bills of products bought one by one, bought together, and designed together.

    Notes
    -----
    Bought one by one, each product uses up stock that an earlier one left, but never what is left of its packs.
    """
    stock, singles = dict(plan.stock), []
    for member in members:
        own = purchase_of(plan, [member.alone_formula], stock, [member.title])
        singles.append(own)
        for line in own.lines:
            held = stock.get(line.material, 0.0)
            if held is not None:
                stock[line.material] = max(0.0, held - line.from_stock_g)
    together = purchase_of(plan, [member.alone_formula for member in members])
    return _bill(plan, singles), _bill(plan, [together]), _bill(plan, [purchase])


def _bill(plan: FamilyPlan, purchases: Sequence[Shopping]) -> Bill:
    water = plan.library.water.id
    used = {line.material for bought in purchases for line in bought.lines} - {water}
    return Bill(
        cash=sum(bought.cash for bought in purchases),
        consumed=sum(bought.consumed for bought in purchases),
        left_value=sum(bought.left_value for bought in purchases),
        materials=len(used),
        orders=sum(len(bought.orders) for bought in purchases),
    )
