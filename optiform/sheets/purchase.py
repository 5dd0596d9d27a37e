"""Which packs to buy: integer programs over packs and suppliers, proven best."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.faults import InternalError
from optiform.sheets.offers import CENT, Bought, basket_of, least_orders_met, verify
from optiform.sheets.rows import Rows, least
from optiform.sheets.together import Together

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.sheets.offers import Aim, Basket, Offer, Supplier


def best_basket(
    needed: Mapping[str, float], offers: Sequence[Offer], suppliers: Sequence[Supplier], aim: Aim
) -> Basket | None:
    """Return the best purchase, ties broken by the other count; None where least orders cannot be filled.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        Each with at least one offer.
    offers : sequence of Offer
    suppliers : sequence of Supplier
    aim : str
        cash or consumed.
    """
    needed = {name: grams for name, grams in needed.items() if grams > 0}
    offers = [offer for offer in offers if offer.material in needed]
    named = {offer.supplier for offer in offers}
    asking = [s for s in suppliers if s.name in named and (s.minimum_order > 0 or s.delivery > 0)]
    return (_least_cash if aim == "cash" else _least_used)(needed, offers, asking)


def _least_cash(
    needed: Mapping[str, float], offers: Sequence[Offer], asking: Sequence[Supplier]
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
        return _apart(needed, offers, ())
    whole = Together(needed, offers, asking).best()
    if whole is None:
        return None
    apart = _apart(needed, _from(whole, offers, asking), asking)
    return apart if apart is not None and apart.cash <= whole.cash + CENT else whole


def _least_used(
    needed: Mapping[str, float], offers: Sequence[Offer], asking: Sequence[Supplier]
) -> Basket | None:
    """Return the purchase of which the least money is used, and among those at the same suppliers the least cash.

    Notes
    -----
    A gram costs least out of the packs that are cheapest per gram, and packs that fill up an order are not
    used. So packs cut to what is needed tell from whom to order, and then only packs of those prices may cover
    it, while others may fill up an order.
    """
    filled = {offer.supplier for offer in offers if offer.price > 0}
    never = {supplier.name for supplier in asking if supplier.minimum_order > 0} - filled
    offers = [offer for offer in offers if offer.supplier not in never]
    if asking:
        cut = [
            offer.model_copy(
                update={"size_g": needed[offer.material], "price": _used(offer, needed), "at_least": 1}
            )
            for offer in offers
        ]
        charged = [supplier.model_copy(update={"minimum_order": 0.0}) for supplier in asking]
        found = Together(needed, cut, charged).best()
        if found is None:
            return None
        offers = _from(found, offers, asking)
    lowest = {
        name: min(_used(offer, needed) for offer in offers if offer.material == name) for name in needed
    }
    cheapest = [offer for offer in offers if _used(offer, needed) <= lowest[offer.material] * (1.0 + 1e-12)]
    return Together(needed, cheapest, asking, offers).best()


def _used(offer: Offer, needed: Mapping[str, float]) -> float:
    """Return what all that is needed of a material costs out of packs of an offer."""
    return offer.price / offer.size_g * needed[offer.material]


def _from(basket: Basket, offers: Sequence[Offer], asking: Sequence[Supplier]) -> list[Offer]:
    """Return the offers of the suppliers of a basket, and of those that ask for nothing."""
    shut = {supplier.name for supplier in asking} - set(basket.suppliers)
    return [offer for offer in offers if offer.supplier not in shut]


def _apart(
    needed: Mapping[str, float], offers: Sequence[Offer], suppliers: Sequence[Supplier]
) -> Basket | None:
    """Return the purchase of least cash of each material by itself, or None where it leaves a least order unfilled."""
    bought: list[Bought] = []
    for name, grams in needed.items():
        bought += alone(name, grams, offers) or ()
    if not least_orders_met(bought, suppliers):
        return None
    basket = basket_of(needed, bought, suppliers)
    verify(needed, basket, suppliers)
    return basket


def alone(name: str, grams: float, offers: Sequence[Offer]) -> tuple[Bought, ...] | None:
    """Return the packs of least cash for one material, whatever its suppliers ask; None without an offer.

    Notes
    -----
    Among packs of the same cash those of which the least is used up. Columns per offer: packs (whole), grams
    used of them, and where `at_least` is above 1 whether it is taken.
    """
    own = [offer for offer in offers if offer.material == name]
    if not own:
        return None
    if grams <= 0:
        return ()
    rows = Rows()
    most = [max(math.ceil(grams / offer.size_g - 1e-12), offer.at_least) for offer in own]
    packs = [rows.column(count, offer.price) for offer, count in zip(own, most, strict=True)]
    used = [rows.column(grams, integer=False) for _ in own]
    rows.row([(column, 1.0) for column in used], grams, grams)
    for k, offer in enumerate(own):
        rows.at_least([(packs[k], offer.size_g), (used[k], -1.0)])
        if offer.at_least > 1:
            taken = rows.column(1)
            rows.at_least([(packs[k], 1.0), (taken, -float(offer.at_least))])
            rows.at_most([(packs[k], 1.0), (taken, -float(most[k]))])
    bound = least(rows.form()).objective + CENT
    rows.at_most([(column, offer.price) for column, offer in zip(packs, own, strict=True)], bound)
    for k, offer in enumerate(own):
        rows.cost[packs[k]] = 0.0
        rows.cost[used[k]] = offer.price / offer.size_g
    values = least(rows.form()).values
    if values is None:
        raise InternalError(f"no packs hold {grams:g} g of {name}")
    counts = values[packs].round().astype(int).tolist()
    return tuple(Bought(offer=offer, packs=count) for offer, count in zip(own, counts, strict=True) if count)
