"""Where a slightly smaller batch would save packs: found, then solved again as printed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.library.models import Frozen
from optiform.sheets.offers import CENT, Basket, basket_of, least_orders_met
from optiform.sheets.purchase import alone

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.sheets.offers import Offer, Supplier

SMALLER_BY = 15.0
"""Batches are shrunk by at most this [%]."""
STEP = 1.0
"""Shrinking is stated in steps of this, rounded to the side that works [%]."""


class NearMiss(Frozen):
    """A material of which a little less would need less money.

    Attributes
    ----------
    needed_g, stock_g : float  [g]
    pack_g : float  [g]
        The smallest pack of the purchase that would be saved or made smaller.
    covers_g : float  [g]
        What the cheaper purchase holds.
    smaller_percent : float  [%]
        By how much every batch that uses the material would be smaller.
    saves : float
        Cash of the whole purchase, solved again with those batches smaller.
    packs_now, packs_then : int
        Packs of this material.
    """

    material: str
    needed_g: float
    stock_g: float
    pack_g: float
    covers_g: float
    smaller_percent: float
    saves: float
    packs_now: int
    packs_then: int


def near_misses(
    needed: Mapping[str, float],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    basket: Basket,
    gross: Mapping[str, float],
    stock: Mapping[str, float | None],
) -> tuple[NearMiss, ...]:
    """Return the materials of which a batch up to `SMALLER_BY` percent smaller needs less money.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        To be bought, stock taken off.
    offers : sequence of Offer
    suppliers : sequence of Supplier
    basket : Basket
        The purchase of least cash.
    gross : mapping of str to float  [g]
        What the batches need, stock not yet taken off.
    stock : mapping of str to float or None  [g]

    Notes
    -----
    Only the need of the one material is made smaller when its purchase is solved again, the rest kept:
    what its batches need of other materials shrinks as well and can only save more. Where the smaller
    purchase would leave a least order unfilled nothing is told.
    """
    asking = [s for s in suppliers if s.minimum_order > 0 or s.delivery > 0]
    shut = {s.name for s in asking} - set(basket.suppliers)
    found = []
    for name in needed:
        own = [line for line in basket.bought if line.offer.material == name]
        choice = [offer for offer in offers if offer.material == name and offer.supplier not in shut]
        covered = most_for_less(choice, math.fsum(line.cash for line in own), needed[name])
        shelf = stock.get(name, 0.0) or 0.0
        smaller = 100.0 * (1.0 - (covered + shelf) / gross[name])
        stated = math.ceil(round(smaller / STEP, 6)) * STEP
        if covered + shelf <= 0 or not 0 < stated <= SMALLER_BY:
            continue
        left = max(0.0, gross[name] * (1.0 - stated / 100.0) - shelf)
        then = alone(name, left, choice) or ()
        bought = [*(line for line in basket.bought if line.offer.material != name), *then]
        saved = basket.cash - basket_of({**needed, name: left}, bought, asking).cash
        if saved > CENT and least_orders_met(bought, asking):
            found.append(
                NearMiss(
                    material=name,
                    needed_g=gross[name],
                    stock_g=shelf,
                    pack_g=min(line.offer.size_g for line in own),
                    covers_g=covered,
                    smaller_percent=stated,
                    saves=saved,
                    packs_now=sum(line.packs for line in own),
                    packs_then=sum(line.packs for line in then),
                )
            )
    return tuple(sorted(found, key=lambda miss: (-miss.saves, miss.material)))


def most_for_less(offers: list[Offer], spent: float, needed: float) -> float:
    """Return the most grams, below what is needed, that packs hold for less money than was spent.

    Parameters
    ----------
    offers : list of Offer
        Of one material.
    spent : float
    needed : float  [g]

    Notes
    -----
    A search over the numbers of packs, largest packs first, cut where money or grams run out. Only
    purchases within `SMALLER_BY` percent of the need matter, so most branches end at once.
    """
    ordered = sorted(offers, key=lambda offer: -offer.size_g)
    best = 0.0

    def add(place: int, grams: float, money: float) -> None:
        nonlocal best
        if place == len(ordered):
            best = max(best, grams)
            return
        offer = ordered[place]
        by_grams = math.floor((needed - grams) / offer.size_g + 1e-12)
        by_money = math.floor((spent - CENT - money) / offer.price) if offer.price > 0 else by_grams
        most = max(0, min(by_grams, by_money))
        if place == len(ordered) - 1:
            counts = [most] if most == 0 or most >= offer.at_least else [0]
        else:
            counts = [0, *range(offer.at_least, most + 1)]
        for count in reversed(counts):
            add(place + 1, grams + count * offer.size_g, money + count * offer.price)

    add(0, 0.0, 0.0)
    return best
