"""Chooses which packs to buy, by integer programs over packs and suppliers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from optiform.faults import InternalError
from optiform.sheets.purchase.coupled_purchase import CoupledPurchase
from optiform.sheets.purchase.form_builder import FormBuilder, least
from optiform.sheets.purchase.offers import (
    Aim,
    Basket,
    Bought,
    Offer,
    Supplier,
    basket_of,
    least_orders_met,
    verify,
    worthwhile,
)
from optiform.solver import NO_LIMIT, Clock, Outcome
from optiform.tolerances import LAST_DIGITS, MONEY
from optiform.vectors import Floats


def best_basket(
    needed: Mapping[str, float],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    aim: Aim,
    clock: Clock = NO_LIMIT,
) -> Basket | None:
    """Return the best purchase, ties broken by the other aim; None where least orders cannot be filled.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        Each with at least one offer.
    clock : Clock
        Once its time is over the best so far is returned, with its gap.

    Raises
    ------
    OutOfTime
        If the time is over before any purchase is found that fills the least orders.
    """
    needed = {name: grams for name, grams in needed.items() if grams > 0}
    if not needed:
        return basket_of(needed, (), ())
    offers = [offer for offer in offers if offer.material in needed]
    named = {offer.supplier for offer in offers}
    asking = [s for s in suppliers if s.name in named and (s.minimum_order > 0 or s.delivery > 0)]
    return (_least_cash if aim == "cash" else _least_used)(needed, offers, asking, clock)


def _least_cash(
    needed: Mapping[str, float],
    offers: Sequence[Offer],
    asking: Sequence[Supplier],
    clock: Clock,
) -> Basket | None:
    """Return the purchase of least cash.

    Notes
    -----
    Without suppliers that ask for anything the materials do not touch each other, and each is its own
    small program. With them one program finds from whom to order; then the materials are solved alone
    at those suppliers, which breaks ties, and the sum is held against the one program. Where a least
    order binds, so that the materials do touch, the one program stands and ties are left as they fall.
    """
    if not asking:
        return _separately(needed, offers, (), clock)
    whole = CoupledPurchase(needed, offers, asking, clock=clock).best()
    if whole is None or whole.gap > 0:
        return whole
    apart = _separately(needed, _open_offers(whole, offers, asking), asking, clock)
    if apart is not None:
        apart = apart.model_copy(update={"gap": 0.0})
    return apart if apart is not None and apart.cash <= whole.cash + MONEY else whole


def _least_used(
    needed: Mapping[str, float],
    offers: Sequence[Offer],
    asking: Sequence[Supplier],
    clock: Clock,
) -> Basket | None:
    """Return the purchase of which the least value is used; at the same suppliers, that of least cash.

    Notes
    -----
    A gram costs least out of the packs that are cheapest per gram, and packs that fill up an order are not
    used. So packs cut to what is needed tell from whom to order, and then only packs of those prices may cover
    it, while others may fill up an order.
    """
    filled = {offer.supplier for offer in offers if offer.price > 0}
    never = {supplier.name for supplier in asking if supplier.minimum_order > 0} - filled
    offers = [offer for offer in offers if offer.supplier not in never]
    gap = 0.0
    if asking:
        cut = [
            offer.model_copy(
                update={
                    "size_g": needed[offer.material],
                    "price": _cost_of_need(offer, needed),
                    "at_least": 1,
                }
            )
            for offer in offers
        ]
        charged = [supplier.model_copy(update={"minimum_order": 0.0}) for supplier in asking]
        found = CoupledPurchase(needed, cut, charged, clock=clock).best()
        if found is None:
            return None
        gap = found.gap
        offers = _open_offers(found, offers, asking)
    lowest = {
        name: min(_cost_of_need(offer, needed) for offer in offers if offer.material == name)
        for name in needed
    }
    cheapest = [
        offer
        for offer in offers
        if _cost_of_need(offer, needed) <= lowest[offer.material] * (1.0 + LAST_DIGITS)
    ]
    best = CoupledPurchase(needed, cheapest, asking, offers, clock).best()
    return None if best is None else best.model_copy(update={"gap": gap, "ties_broken": not best.gap})


def _cost_of_need(offer: Offer, needed: Mapping[str, float]) -> float:
    """Return what the whole need of a material costs at the price per gram of an offer."""
    return offer.price / offer.size_g * needed[offer.material]


def _open_offers(basket: Basket, offers: Sequence[Offer], asking: Sequence[Supplier]) -> list[Offer]:
    """Return the offers of the suppliers of a basket, and of those that ask for nothing."""
    shut = {supplier.name for supplier in asking} - set(basket.suppliers)
    return [offer for offer in offers if offer.supplier not in shut]


def _separately(
    needed: Mapping[str, float],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    clock: Clock,
) -> Basket | None:
    """Return the least cash of each material by itself; None where that leaves a least order unfilled."""
    bought: list[Bought] = []
    gap = 0.0
    for name, grams in needed.items():
        own = single_purchase(name, grams, offers, clock)
        bought += own.bought
        gap += own.gap
    if not least_orders_met(bought, suppliers):
        return None
    basket = basket_of(needed, bought, suppliers).model_copy(update={"gap": gap})
    verify(needed, basket, suppliers)
    return basket


class SinglePurchase(NamedTuple):
    """The packs of one material, and the gap to the least cash: 0 where that is proven."""

    bought: tuple[Bought, ...] = ()
    gap: float = 0.0


def single_purchase(
    name: str, grams: float, offers: Sequence[Offer], clock: Clock = NO_LIMIT
) -> SinglePurchase:
    """Return the packs of least cash for one material, least orders and delivery aside.

    Notes
    -----
    Among packs of the same cash those of which the least is used up. Columns per offer: packs (whole), grams
    used of them, and where `at_least` is above 1 whether it is taken. When the time is over the best packs so
    far count, at worst those of a single offer.
    """
    own = worthwhile([offer for offer in offers if offer.material == name])
    if not own or grams <= 0:
        return SinglePurchase()
    builder = FormBuilder()
    most = [max(math.ceil(grams / offer.size_g - LAST_DIGITS), offer.at_least) for offer in own]
    packs = [builder.column(count, offer.price) for offer, count in zip(own, most, strict=True)]
    used = [builder.column(grams, integer=False) for _ in own]
    builder.row([(column, 1.0) for column in used], grams, grams)
    for k, offer in enumerate(own):
        builder.at_least([(packs[k], offer.size_g), (used[k], -1.0)])
        if offer.at_least > 1:
            taken = builder.column(1)
            builder.at_least([(packs[k], 1.0), (taken, -float(offer.at_least))])
            builder.at_most([(packs[k], 1.0), (taken, -float(most[k]))])
    first = least(builder.form(), clock=clock)
    if first.status == "stopped":
        return _so_far(grams, own, most, first, packs)
    builder.at_most(
        [(column, offer.price) for column, offer in zip(packs, own, strict=True)], first.objective + MONEY
    )
    for k, offer in enumerate(own):
        builder.cost[packs[k]] = 0.0
        builder.cost[used[k]] = offer.price / offer.size_g
    second = least(builder.form(), clock=clock)
    values = second.values if second.values is not None or second.status != "stopped" else first.values
    if values is None:
        raise InternalError(f"no packs hold {grams:g} g of {name}")
    return SinglePurchase(_packs_of(own, values[packs]))


def _so_far(
    grams: float, offers: Sequence[Offer], most: Sequence[int], found: Outcome, packs: Sequence[int]
) -> SinglePurchase:
    """Return the best packs of one material when the time was over: the solver's, or those of one offer."""
    single = min(zip(offers, most, strict=True), key=lambda pair: pair[0].price * pair[1])
    bought: tuple[Bought, ...] = (Bought(offer=single[0], packs=single[1]),)
    if found.values is not None:
        bought = min(
            bought, _packs_of(offers, found.values[list(packs)]), key=lambda own: sum(b.cash for b in own)
        )
    bound = max(found.bound, grams * min(offer.price / offer.size_g for offer in offers))
    return SinglePurchase(bought, max(0.0, math.fsum(line.cash for line in bought) - bound))


def _packs_of(offers: Sequence[Offer], counts: Floats) -> tuple[Bought, ...]:
    whole = counts.round().astype(int).tolist()
    return tuple(Bought(offer=offer, packs=n) for offer, n in zip(offers, whole, strict=True) if n)
