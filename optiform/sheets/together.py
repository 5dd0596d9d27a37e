"""Packs of materials that touch each other: suppliers ask for least orders, and charge for bringing them."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from optiform.sheets.filling import Sums, cents
from optiform.sheets.offers import CENT, Bought, basket_of, verify
from optiform.sheets.rows import Rows, Terms, least

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.library.arrays import Floats
    from optiform.sheets.offers import Basket, Offer, Supplier

COVERS = 500
"""A material that can be bought in more ways than this is stated by its packs instead."""
HALF_A_CENT = 0.5
"""Sums of whole cents that are closer than this are equal."""


@dataclass(frozen=True)
class _Filling:
    """Columns that fill up one order: a run of sums each, where it starts and how far it is gone into."""

    sums: Sums
    offers: tuple[Offer, ...]
    starts: tuple[int, ...]
    terms: Terms

    def bought(self, values: Floats) -> dict[Offer, int]:
        """Return the packs that make the sum which a solution asks for."""
        total = round(math.fsum(money * values[column] for column, money in self.terms))
        return dict(zip(self.offers, self.sums.made(total), strict=True))


class Together:
    """The purchase of least cash where least orders and delivery charges bind materials together.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        Material id and grams to buy, above 0.
    offers : sequence of Offer
        Of those materials.
    suppliers : sequence of Supplier
        Those that ask for a least order or a delivery charge.
    fillers : sequence of Offer
        What may fill up an order without counting towards what is needed.

    Notes
    -----
    One column per way to cover the need of a material from which no pack can be left out: of all ways to
    state the choice this has the closest relaxation. What fills up an order beyond that matters only by its
    sum, so the program does not choose packs but one of the runs of sums that packs of the supplier can make.
    The last run, which has no end, often serves: it is tried first, then the others for less than was found.
    Packs that make no such sums (sold from a number on, or priced in parts of cents) have a column each.
    All money is in cents.
    """

    def __init__(
        self,
        needed: Mapping[str, float],
        offers: Sequence[Offer],
        suppliers: Sequence[Supplier],
        fillers: Sequence[Offer] = (),
    ) -> None:
        self.needed, self.suppliers = needed, tuple(suppliers)
        self._rows = Rows()
        self._orders = {s.name: self._rows.column(1, cents(s.delivery)) for s in suppliers}
        self._packs: dict[Offer, Terms] = defaultdict(list)
        for name, grams in needed.items():
            own = [offer for offer in offers if offer.material == name]
            ways = covers(grams, own)
            if ways is None:
                self._hold(grams, own)
            else:
                self._choose(ways)
        every = tuple(dict.fromkeys((*offers, *fillers)))
        self._fillings = [
            self._fill(supplier, [offer for offer in every if offer.supplier == supplier.name])
            for supplier in suppliers
            if supplier.minimum_order > 0
        ]
        whole = all(float(cost).is_integer() for cost in self._rows.cost)
        self._apart = HALF_A_CENT if whole else cents(CENT)

    def _choose(self, ways: Sequence[Mapping[Offer, int]]) -> None:
        """Demand one of the ways to cover a need."""
        columns, users = [], defaultdict(set)
        for way in ways:
            column = self._rows.column(1, cents(sum(offer.price * packs for offer, packs in way.items())))
            columns.append(column)
            for offer, packs in way.items():
                self._packs[offer].append((column, float(packs)))
                users[offer.supplier].add(column)
        self._rows.row([(column, 1.0) for column in columns], 1.0, 1.0)
        for supplier, own in users.items():
            self._order(supplier, [(column, 1.0) for column in sorted(own)], 1)

    def _hold(self, grams: float, offers: Sequence[Offer]) -> None:
        """Demand packs that hold what is needed."""
        for offer in offers:
            self._any(offer, max(math.ceil(grams / offer.size_g), offer.at_least))
        self._rows.at_least([(self._packs[offer][-1][0], offer.size_g) for offer in offers], grams)

    def _any(self, offer: Offer, most: int) -> None:
        """Let up to so many packs of an offer be bought, besides those of a chosen way."""
        column, packs = self._rows.column(most, cents(offer.price)), self._packs[offer]
        packs.append((column, 1.0))
        self._order(offer.supplier, [(column, 1.0)], most)
        if offer.at_least > 1:
            taken = self._rows.column(1)
            self._rows.at_most([(column, 1.0), (taken, -float(most))])
            self._rows.at_least([*packs, (taken, -float(offer.at_least))])

    def _order(self, supplier: str, terms: Terms, most: int) -> None:
        """Let terms, which come to `most` at most, be above 0 only where the supplier is ordered from."""
        if supplier in self._orders:
            self._rows.at_most([*terms, (self._orders[supplier], -float(most))])

    def _fill(self, supplier: Supplier, offers: Sequence[Offer]) -> _Filling:
        """Demand the least order, which packs that are not needed may fill up."""
        wanted = cents(supplier.minimum_order)
        coins = {
            offer: int(cents(offer.price))
            for offer in offers
            if offer.at_least == 1 and offer.price > 0 and cents(offer.price).is_integer()
        }
        for offer in offers:
            if offer.price > 0 and offer not in coins:
                self._any(offer, math.ceil(supplier.minimum_order / offer.price) + offer.at_least)
        sums = Sums.up_to(math.ceil(wanted) + min(coins.values(), default=0), tuple(coins.values()))
        starts: list[int] = []
        terms: Terms = []
        for first, last in sums.runs:
            starts.append(self._rows.column(1, first))
            terms.append((starts[-1], float(first)))
            if last > first:
                terms.append((self._rows.column(last - first, 1.0), 1.0))
                self._rows.at_most([(terms[-1][0], 1.0), (starts[-1], float(first - last))])
        self._order(supplier.name, [(column, 1.0) for column in starts], 1)
        spent = [(c, n * cents(offer.price)) for offer in offers for c, n in self._packs[offer]]
        self._rows.at_least([*spent, *terms, (self._orders[supplier.name], -wanted)])
        return _Filling(sums, tuple(coins), tuple(starts), terms)

    def best(self) -> Basket | None:
        """Return the purchase; None where the offers cannot meet the needs (a least order that nothing fills)."""
        form = self._rows.form()
        upper = form.upper.copy()
        upper[[column for filling in self._fillings for column in filling.starts[:-1]]] = 0.0
        first = least(replace(form, upper=upper))
        better = least(form, first.objective - self._apart)
        values = first.values if better.values is None else better.values
        if values is None:
            return None
        packs: dict[Offer, int] = defaultdict(int)
        for offer, terms in self._packs.items():
            packs[offer] += round(math.fsum(count * values[column] for column, count in terms))
        for filling in self._fillings:
            for offer, count in filling.bought(values).items():
                packs[offer] += count
        bought = [Bought(offer=offer, packs=count) for offer, count in packs.items() if count > 0]
        basket = basket_of(self.needed, bought, self.suppliers)
        verify(self.needed, basket, self.suppliers)
        return basket


def covers(grams: float, offers: Sequence[Offer]) -> list[dict[Offer, int]] | None:
    """Return the ways to cover a need from which no pack can be left out; None where they are too many.

    Parameters
    ----------
    grams : float  [g]
    offers : sequence of Offer
        Of one material.
    """
    ordered = sorted(offers, key=lambda offer: -offer.size_g)
    found: list[dict[Offer, int]] = []

    def add(place: int, left: float, way: dict[Offer, int]) -> None:
        if left <= grams * 1e-12:
            found.append(way)
        elif place < len(ordered) and len(found) <= COVERS:
            offer = ordered[place]
            enough = max(math.ceil(left / offer.size_g - 1e-12), offer.at_least)
            last = place == len(ordered) - 1
            for packs in (enough,) if last else range(enough, offer.at_least - 1, -1):
                add(place + 1, left - packs * offer.size_g, {**way, offer: packs})
            add(place + 1, left, way)

    add(0, grams, {})
    return found if len(found) <= COVERS else None
