"""Where a slightly smaller batch would save packs: found, then solved again as printed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.library.models import Frozen
from optiform.sheets.purchase import CENT, Basket, Market

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.sheets.purchase import Offer

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
    market: Market, basket: Basket, gross: Mapping[str, float], stock: Mapping[str, float | None]
) -> tuple[NearMiss, ...]:
    """Return the materials of which a batch up to `SMALLER_BY` percent smaller needs less money.

    Parameters
    ----------
    market : Market
    basket : Basket
        The purchase of least cash.
    gross : mapping of str to float  [g]
        What the batches need, stock not yet taken off.
    stock : mapping of str to float or None  [g]

    Notes
    -----
    Only the need of the one material is made smaller when the whole is solved again: what its batches
    need of other materials shrinks as well and can only save more.
    """
    found = []
    for name, needed in market.needed.items():
        offers = [offer for offer in market.offers if offer.material == name]
        spent = math.fsum(line.cash for line in basket.bought if line.offer.material == name)
        covered = most_for_less(offers, spent, needed)
        shelf = stock.get(name, 0.0) or 0.0
        smaller = 100.0 * (1.0 - (covered + shelf) / gross[name])
        stated = math.ceil(round(smaller / STEP, 6)) * STEP
        if covered + shelf <= 0 or not 0 < stated <= SMALLER_BY:
            continue
        left = max(0.0, gross[name] * (1.0 - stated / 100.0) - shelf)
        then = market.at({name: left})
        saved = 0.0 if then is None else basket.cash - then.cash
        if then is None or saved <= CENT:
            continue
        own = [line for line in basket.bought if line.offer.material == name]
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
                packs_then=sum(line.packs for line in then.bought if line.offer.material == name),
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
