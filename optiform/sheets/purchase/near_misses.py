"""Finds where a slightly smaller batch would save packs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from optiform.library.models import Frozen
from optiform.sheets.purchase.form_builder import FormBuilder, least
from optiform.sheets.purchase.offers import Basket, Bought, Offer, Supplier, basket_of, least_orders_met
from optiform.sheets.purchase.packs import single_purchase
from optiform.solver import NO_LIMIT, Clock
from optiform.tolerances import LAST_DIGITS, MONEY

SMALLER_BY = 15.0
"""Batches are shrunk by at most this [%]."""
CLOSE = 1e-3
"""What a smaller purchase holds is found to within this part of the need."""
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

    @classmethod
    def of(
        cls, now: Sequence[Bought], then: Sequence[Bought], needed_g: float, stock_g: float, **shrunk: float
    ) -> NearMiss:
        """Compare the packs bought now with those for batches a little smaller."""
        return cls(
            material=now[0].offer.material,
            needed_g=needed_g,
            stock_g=stock_g,
            pack_g=min(line.offer.size_g for line in now),
            packs_now=sum(line.packs for line in now),
            packs_then=sum(line.packs for line in then),
            **shrunk,
        )


def near_misses(
    needed: Mapping[str, float],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    basket: Basket,
    gross: Mapping[str, float],
    stock: Mapping[str, float | None],
    clock: Clock = NO_LIMIT,
) -> tuple[NearMiss, ...]:
    """Return the materials of which a batch up to `SMALLER_BY` percent smaller needs less money.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        To be bought, stock taken off.
    basket : Basket
        The purchase of least cash.
    gross : mapping of str to float  [g]
        What the batches need, stock not yet taken off.
    stock : mapping of str to float or None  [g]
    clock : Clock
        Once its time is over no more are looked for.

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
        if clock.over():
            break
        covered = most_for_less(choice, math.fsum(line.cash for line in own), needed[name], clock)
        shelf = stock.get(name, 0.0) or 0.0
        smaller = 100.0 * (1.0 - (covered + shelf) / gross[name])
        stated = math.ceil(round(smaller / STEP, 6)) * STEP
        if covered + shelf <= 0 or not 0 < stated <= SMALLER_BY:
            continue
        left = max(0.0, gross[name] * (1.0 - stated / 100.0) - shelf)
        then, behind = single_purchase(name, left, choice, clock)
        if behind:
            break
        bought = [*(line for line in basket.bought if line.offer.material != name), *then]
        saved = basket.cash - basket_of({**needed, name: left}, bought, asking).cash
        if saved > MONEY and least_orders_met(bought, asking):
            shrunk = {"covers_g": covered, "smaller_percent": stated, "saves": saved}
            found.append(NearMiss.of(own, then, gross[name], shelf, **shrunk))
    return tuple(sorted(found, key=lambda miss: (-miss.saves, miss.material)))


def most_for_less(offers: list[Offer], spent: float, needed: float, clock: Clock = NO_LIMIT) -> float:
    """Return the most grams, below what is needed, that packs hold for less money than was spent.

    Within `CLOSE` of the most, as a part of the need; once the time of the clock is over the most so far counts.
    """
    builder = FormBuilder()
    budget = spent - MONEY
    counts = []
    for offer in offers:
        by_grams = math.floor(needed / offer.size_g + LAST_DIGITS)
        most = by_grams if offer.price <= 0 else min(by_grams, max(0, math.floor(budget / offer.price)))
        counts.append(builder.column(most, -offer.size_g / needed))
        if 1 < offer.at_least <= most:
            taken = builder.column(1)
            builder.at_least([(counts[-1], 1.0), (taken, -float(offer.at_least))])
            builder.at_most([(counts[-1], 1.0), (taken, -float(most))])
        elif offer.at_least > most:
            builder.upper[counts[-1]] = 0.0
    builder.at_most(
        [(column, offer.size_g / needed) for column, offer in zip(counts, offers, strict=True)], 1.0
    )
    if budget > 0:
        money = [(column, offer.price / budget) for column, offer in zip(counts, offers, strict=True)]
        builder.at_most(money, 1.0)
    found = least(builder.form(), apart=CLOSE, clock=clock)
    if found.values is None:
        return 0.0
    packs = found.values[counts].round()
    return math.fsum(offer.size_g * n for offer, n in zip(offers, packs.tolist(), strict=True))
