"""Chooses packs where least orders or delivery charges couple the purchases of materials."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optiform.program import Form
from optiform.sheets.purchase.exchange import exchanged
from optiform.sheets.purchase.form_builder import FormBuilder, Terms, least
from optiform.sheets.purchase.offers import Basket, Bought, Offer, Supplier, basket_of, verify, worthwhile
from optiform.sheets.purchase.reachable_sums import NEVER, Counts, ReachableSums, cents
from optiform.solver import NO_LIMIT, Clock, OutOfTime
from optiform.tolerances import LAST_DIGITS, MONEY
from optiform.vectors import Floats

COVERS = 100
"""A material that can be bought in more ways than this is stated by its packs instead."""
SUMS = 1e7
"""A least order above this many cents is filled up pack by pack: its sums would be too many to list."""
HALF_A_CENT, ALMOST_A_CENT = 0.5, 0.99
"""Sums of whole cents that are closer than these are equal."""
HALF = 0.5
"""A column of 0 or 1 that is above this is taken."""


@dataclass(frozen=True)
class _Filling:
    """How an order is filled up by sums that packs make: one column takes any sum, others start each run."""

    supplier: str
    wanted: float
    sums: ReachableSums
    offers: tuple[Offer, ...]
    anything: int
    starts: tuple[int, ...]

    def missing(self, spent: float) -> int:
        """Return the least sum that fills an order up [cent]."""
        return int(self.sums.enough[max(0, math.ceil(self.wanted - spent - MONEY))])


class CoupledPurchase:
    """The purchase of least cash where least orders and delivery charges couple materials.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        Material id and grams to buy, above 0.
    suppliers : sequence of Supplier
        Those that ask for a least order or a delivery charge.
    fillers : sequence of Offer
        What may fill up an order without counting towards what is needed.
    clock : Clock
        Once its time is over the best so far is taken, with its gap.

    Notes
    -----
    One column per way to cover the need of a material from which no pack can be left out: of all ways to
    state the choice this has the closest relaxation. What fills up an order beyond that matters only by its
    sum, so the program does not choose packs but one of the runs of sums that packs of the supplier can make.
    First any sum is allowed, which bounds the cost from below; where filling up for real and exchanges of two
    materials do not come down to that bound, the program with the runs is asked for less than they cost.
    Packs that make no such sums (sold from a number on, or priced in parts of cents) have a column each.
    All money is in cents.
    """

    def __init__(
        self,
        needed: Mapping[str, float],
        offers: Sequence[Offer],
        suppliers: Sequence[Supplier],
        fillers: Sequence[Offer] = (),
        clock: Clock = NO_LIMIT,
    ) -> None:
        self.needed, self.suppliers, self.clock = needed, tuple(suppliers), clock
        self._builder = FormBuilder()
        self._orders = {s.name: self._builder.column(1, cents(s.delivery)) for s in suppliers}
        self._packs: dict[Offer, Terms] = defaultdict(list)
        self._ways: list[dict[int, dict[Offer, int]]] = []
        filling = {supplier.name for supplier in suppliers if supplier.minimum_order > 0}
        for name, grams in needed.items():
            own = [offer for offer in offers if offer.material == name]
            plain = defaultdict(list)
            for offer in own:
                plain[offer.supplier].append(offer)
            own = [
                offer
                for seller, sold in plain.items()
                for offer in (sold if seller in filling else worthwhile(sold))
            ]
            ways = covers(grams, own)
            if ways is None:
                self._hold(grams, own)
            else:
                self._choose(ways)
        every = tuple(dict.fromkeys((*offers, *fillers)))
        filled = [
            self._fill(supplier, [offer for offer in every if offer.supplier == supplier.name])
            for supplier in suppliers
            if supplier.minimum_order > 0
        ]
        self._fillings = [filling for filling in filled if filling is not None]
        whole = all(cost.is_integer() for cost in self._builder.cost)
        self._apart, self._gap = (HALF_A_CENT, ALMOST_A_CENT) if whole else (cents(MONEY), 0.0)
        self._countable = (
            whole and len(filled) == len(self._fillings) and all(offer.at_least == 1 for offer in every)
        )

    def _choose(self, ways: Sequence[dict[Offer, int]]) -> None:
        """Add the rows that choose one of the ways to cover a need."""
        users = defaultdict(set)
        columns = {
            self._builder.column(1, cents(sum(offer.price * packs for offer, packs in way.items()))): way
            for way in ways
        }
        self._ways.append(columns)
        for column, way in columns.items():
            for offer, packs in way.items():
                self._packs[offer].append((column, float(packs)))
                users[offer.supplier].add(column)
        self._builder.row([(column, 1.0) for column in columns], 1.0, 1.0)
        for supplier, own in users.items():
            self._order(supplier, [(column, 1.0) for column in sorted(own)], 1)

    def _hold(self, grams: float, offers: Sequence[Offer]) -> None:
        """Add the row that the packs cover the need."""
        for offer in offers:
            self._any(offer, max(math.ceil(grams / offer.size_g), offer.at_least))
        self._builder.at_least([(self._packs[offer][-1][0], offer.size_g) for offer in offers], grams)

    def _any(self, offer: Offer, most: int) -> None:
        """Add a column for packs of an offer beyond those of a chosen way, at most so many."""
        column, packs = self._builder.column(most, cents(offer.price)), self._packs[offer]
        packs.append((column, 1.0))
        self._order(offer.supplier, [(column, 1.0)], most)
        if offer.at_least > 1:
            taken = self._builder.column(1)
            self._builder.at_most([(column, 1.0), (taken, -float(most))])
            self._builder.at_least([*packs, (taken, -float(offer.at_least))])

    def _order(self, supplier: str, terms: Terms, most: int) -> None:
        """Add the row that terms, at most `most`, are above 0 only where the supplier is ordered from."""
        if supplier in self._orders:
            self._builder.at_most([*terms, (self._orders[supplier], -float(most))])

    def _fill(self, supplier: Supplier, offers: Sequence[Offer]) -> _Filling | None:
        """Add the row of a least order, which packs beyond the need may fill up; None where no sums are listed."""
        wanted = cents(supplier.minimum_order)
        coins = {
            offer: int(cents(offer.price))
            for offer in offers
            if wanted <= SUMS and offer.at_least == 1 and offer.price > 0 and cents(offer.price).is_integer()
        }
        for offer in offers:
            if offer.price > 0 and offer not in coins:
                self._any(offer, math.ceil(supplier.minimum_order / offer.price) + offer.at_least)
        if wanted > SUMS:
            spent = [(c, n * cents(offer.price)) for offer in offers for c, n in self._packs[offer]]
            self._builder.at_least([*spent, (self._orders[supplier.name], -wanted)])
            return None
        sums = ReachableSums.up_to(math.ceil(wanted) + min(coins.values(), default=0), tuple(coins.values()))
        anything = self._builder.column(math.ceil(wanted), 1.0)
        terms: Terms = [(anything, 1.0)]
        starts: list[int] = []
        for first, last in sums.runs:
            starts.append(self._builder.column(1, first))
            terms.append((starts[-1], float(first)))
            if last > first:
                terms.append((self._builder.column(last - first, 1.0), 1.0))
                self._builder.at_most([(terms[-1][0], 1.0), (starts[-1], float(first - last))])
        self._order(supplier.name, [(column, 1.0) for column in starts], 1)
        spent = [(c, n * cents(offer.price)) for offer in offers for c, n in self._packs[offer]]
        self._builder.at_least([*spent, *terms, (self._orders[supplier.name], -wanted)])
        return _Filling(supplier.name, wanted, sums, tuple(coins), anything, tuple(starts))

    def best(self) -> Basket | None:
        """Return the purchase of least cash; None where the offers cannot meet needs and least orders."""
        bound = least(self._allowing(anything=True), apart=self._gap, clock=self.clock)
        if bound.values is None:
            if bound.status == "stopped":
                raise OutOfTime
            return None
        if bound.status == "stopped":
            found = self._basket(bound.values)
            if found is None:
                raise OutOfTime
            return _behind(found, bound.bound)
        first = self._basket(
            self._exchanged(bound.values, bound.objective + self._apart) if self._countable else bound.values
        )
        cost = math.inf if first is None else cents(first.cash)
        if cost <= bound.objective + self._apart:
            return first
        better = least(self._allowing(anything=False), cost - self._apart, self._gap, self.clock)
        found = first if better.values is None else self._basket(better.values)
        if better.status != "stopped":
            return found
        if found is None:
            raise OutOfTime
        return _behind(found, max(bound.objective - self._apart, better.bound))

    def _allowing(self, *, anything: bool) -> Form:
        """Return the program in which any sum fills an order up, or only those that packs make."""
        form = self._builder.form()
        upper = form.upper.copy()
        for filling in self._fillings:
            upper[list(filling.starts) if anything else filling.anything] = 0.0
        return replace(form, upper=upper)

    def _exchanged(self, values: Floats, goal: float) -> Floats:
        """Improve a solution by exchanges of two materials among the suppliers that it orders from."""
        shut = {name for name, order in self._orders.items() if values[order] < HALF}
        places = {filling.supplier: k for k, filling in enumerate(self._fillings)}

        def spent(packs: Mapping[Offer, int]) -> Counts:
            money = np.zeros(len(places) + 1, dtype=np.int64)
            for offer, count in packs.items():
                money[places.get(offer.supplier, -1)] += count * round(cents(offer.price))
            return money

        besides = spent(self._bought(values))
        besides[-1] += sum(round(cents(s.delivery)) for s in self.suppliers if s.name not in shut)
        columns, costs, chosen = [], [], []
        for ways in self._ways:
            taken = next(column for column in ways if values[column] > HALF)
            besides -= spent(ways[taken])
            columns.append([c for c, way in ways.items() if shut.isdisjoint(offer.supplier for offer in way)])
            costs.append(np.array([spent(ways[column]) for column in columns[-1]]))
            chosen.append(columns[-1].index(taken))
        fill = [
            np.zeros(1, dtype=np.int64) if f.supplier in shut else f.sums.enough[math.ceil(f.wanted) :: -1]
            for f in self._fillings
        ]
        better = values.copy()
        for own, way in zip(columns, exchanged(costs, chosen, besides, fill, goal), strict=True):
            better[own] = 0.0
            better[own[way]] = 1.0
        return better

    def _bought(self, values: Floats) -> dict[Offer, int]:
        """Return the packs of a solution, without what fills up an order by its sum."""
        return {
            offer: round(math.fsum(count * values[column] for column, count in terms))
            for offer, terms in self._packs.items()
        }

    def _basket(self, values: Floats) -> Basket | None:
        """Return the purchase of a solution, its orders filled up; None where packs of a supplier cannot."""
        packs = self._bought(values)
        for filling in self._fillings:
            own = [(count, o.price) for o, count in packs.items() if count and o.supplier == filling.supplier]
            missing = filling.missing(math.fsum(count * cents(price) for count, price in own)) if own else 0
            if missing == NEVER:
                return None
            for offer, count in zip(filling.offers, filling.sums.made(missing), strict=True):
                packs[offer] = packs.get(offer, 0) + count
        bought = [Bought(offer=offer, packs=count) for offer, count in packs.items() if count > 0]
        basket = basket_of(self.needed, bought, self.suppliers)
        verify(self.needed, basket, self.suppliers)
        return basket


def _behind(basket: Basket, bound: float) -> Basket:
    """Return a basket with its gap to the best; `bound` in cents."""
    return basket.model_copy(update={"gap": max(0.0, basket.cash - max(bound, 0.0) / cents(1.0))})


def covers(grams: float, offers: Sequence[Offer]) -> list[dict[Offer, int]] | None:
    """Return the ways to cover a need from which no pack can be left out; None where they are too many.

    `grams` is in [g].
    """
    if len(offers) > COVERS:
        return None
    ordered = sorted(offers, key=lambda offer: -offer.size_g)
    found: list[dict[Offer, int]] = []

    def add(place: int, left: float, way: dict[Offer, int]) -> None:
        if left <= grams * LAST_DIGITS:
            found.append(way)
        elif place < len(ordered) and len(found) <= COVERS:
            offer = ordered[place]
            enough = max(math.ceil(left / offer.size_g - LAST_DIGITS), offer.at_least)
            last = place == len(ordered) - 1
            for packs in (enough,) if last else range(enough, offer.at_least - 1, -1):
                add(place + 1, left - packs * offer.size_g, {**way, offer: packs})
            add(place + 1, left, way)

    add(0, grams, {})
    return found if len(found) <= COVERS else None
