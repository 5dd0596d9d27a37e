"""Which packs to buy: an integer program over packs and suppliers, proven best."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from optiform.faults import InternalError
from optiform.library.models import Frozen
from optiform.program import Form, SparseRow
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from optiform.library.arrays import Floats

Aim = Literal["cash", "consumed"]
CENT = 1e-6
"""Sums of money closer than this are equal."""


class Offer(Frozen):
    """A pack that can be bought; `at_least` packs of it or none."""

    material: str
    size_g: float
    price: float
    supplier: str = ""
    at_least: int = 1


class Supplier(Frozen):
    """What a supplier asks besides the packs: a least order, and a charge for bringing it."""

    name: str
    minimum_order: float = 0.0
    delivery: float = 0.0


class Bought(Frozen):
    """So many packs of one offer."""

    offer: Offer
    packs: int

    @property
    def cash(self) -> float:
        """Return what they cost."""
        return self.packs * self.offer.price

    @property
    def grams(self) -> float:
        """Return what they hold [g]."""
        return self.packs * self.offer.size_g


class Basket(Frozen):
    """What is bought: packs, the suppliers ordered from, and what it comes to.

    Attributes
    ----------
    cash : float
        Money out, delivery included.
    consumed : float
        What of that goes into the batches: each gram at the price of its pack, cheapest packs first,
        and delivery.
    """

    bought: tuple[Bought, ...]
    suppliers: tuple[str, ...]
    cash: float
    consumed: float


@dataclass
class _Rows:
    """Gathers a form."""

    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    integer: list[bool] = field(default_factory=list)
    rows: list[tuple[list[int], list[float], float, float]] = field(default_factory=list)

    def column(self, upper: float, *, integer: bool = True) -> int:
        self.lower.append(0.0)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.lower) - 1

    def row(self, terms: Iterable[tuple[int, float]], lower: float, upper: float) -> int:
        pairs = [(column, value) for column, value in terms if value]
        self.rows.append(([column for column, _ in pairs], [value for _, value in pairs], lower, upper))
        return len(self.rows) - 1

    def form(self, objective: Floats) -> Form:
        lengths = [len(columns) for columns, *_ in self.rows]
        return Form(
            lower=np.array(self.lower),
            upper=np.array(self.upper),
            integer=np.array(self.integer, dtype=bool),
            objective=objective,
            starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.intp),
            indices=np.array([column for columns, *_ in self.rows for column in columns], dtype=np.intp),
            values=np.array([value for _, values, *_ in self.rows for value in values], dtype=float),
            row_lower=np.array([lower for *_, lower, _ in self.rows]),
            row_upper=np.array([upper for *_, upper in self.rows]),
        )


class Market:
    """The packs on offer for what is needed, held by a solver; asked for one basket or for many.

    Parameters
    ----------
    needed : mapping of str to float  [g]
        Material id and grams to buy; each has at least one offer.
    offers : sequence of Offer
    suppliers : sequence of Supplier
        Those that ask for a least order or a delivery charge.

    Notes
    -----
    Columns per offer: packs (whole), grams used of them, and where `at_least` is above 1 whether it is
    taken. Columns per such supplier: whether it is ordered from. Packs are bounded by what is needed,
    and by what a least order may ask for beyond that.
    """

    def __init__(
        self, needed: Mapping[str, float], offers: Sequence[Offer], suppliers: Sequence[Supplier] = ()
    ) -> None:
        self.needed = {name: grams for name, grams in needed.items() if grams > 0}
        self.offers = tuple(offer for offer in offers if offer.material in self.needed)
        asking = {s.name: s for s in suppliers if s.minimum_order > 0 or s.delivery > 0}
        names = dict.fromkeys(offer.supplier for offer in self.offers if offer.supplier in asking)
        self.suppliers = tuple(asking[name] for name in names)
        rows = _Rows()
        self._packs = [rows.column(float(self._most(offer))) for offer in self.offers]
        self._used = [rows.column(self.needed[offer.material], integer=False) for offer in self.offers]
        self._orders = [rows.column(1.0) for _ in self.suppliers]
        self._need_rows = {name: self._cover(rows, name) for name in self.needed}
        self._bind(rows)
        self.cash_of = self._cash()
        self.consumed_of = self._consumed()
        self.session = Session(rows.form(self.cash_of))

    def _most(self, offer: Offer) -> int:
        """Return how many packs of an offer can ever make sense."""
        most = max(math.ceil(self.needed[offer.material] / offer.size_g - 1e-12), offer.at_least)
        least = max((s.minimum_order for s in self.suppliers if s.name == offer.supplier), default=0.0)
        if least > 0 and offer.price > 0:
            most += math.ceil(least / offer.price)
        return most

    def _cover(self, rows: _Rows, name: str) -> int:
        """Demand that what is used adds up to what is needed."""
        own = [k for k, offer in enumerate(self.offers) if offer.material == name]
        return rows.row([(self._used[k], 1.0) for k in own], self.needed[name], self.needed[name])

    def _bind(self, rows: _Rows) -> None:
        for k, offer in enumerate(self.offers):
            rows.row([(self._packs[k], offer.size_g), (self._used[k], -1.0)], 0.0, np.inf)
            most = rows.upper[self._packs[k]]
            if offer.at_least > 1:
                taken = rows.column(1.0)
                rows.row([(self._packs[k], 1.0), (taken, -float(offer.at_least))], 0.0, np.inf)
                rows.row([(self._packs[k], 1.0), (taken, -most)], -np.inf, 0.0)
            for order, supplier in zip(self._orders, self.suppliers, strict=True):
                if supplier.name == offer.supplier:
                    rows.row([(self._packs[k], 1.0), (order, -most)], -np.inf, 0.0)
        for order, supplier in zip(self._orders, self.suppliers, strict=True):
            own = [(self._packs[k], o.price) for k, o in enumerate(self.offers) if o.supplier == supplier.name]
            if supplier.minimum_order > 0:
                rows.row([*own, (order, -supplier.minimum_order)], 0.0, np.inf)
        self._columns = len(rows.lower)

    def _cash(self) -> Floats:
        money = np.zeros(self._columns)
        money[self._packs] = [offer.price for offer in self.offers]
        money[self._orders] = [supplier.delivery for supplier in self.suppliers]
        return money

    def _consumed(self) -> Floats:
        money = np.zeros(self._columns)
        money[self._used] = [offer.price / offer.size_g for offer in self.offers]
        money[self._orders] = [supplier.delivery for supplier in self.suppliers]
        return money

    def best(self, aim: Aim) -> Basket | None:
        """Return the basket that costs least, and among those the one that costs least by the other count.

        None where the offers cannot meet the needs (a least order that nothing fills).
        """
        first, second = (self.cash_of, self.consumed_of) if aim == "cash" else (self.consumed_of, self.cash_of)
        with self.session.trial():
            self.session.set_objective(first)
            found = self.session.solve()
            if not found.found or found.values is None:
                return None
            own = np.flatnonzero(first)
            limit = float(first @ found.values) + CENT
            self.session.add_row(SparseRow(own, first[own], -np.inf, limit))
            self.session.set_objective(second)
            tied = self.session.solve()
        values = tied.values if tied.values is not None else found.values
        return self._basket(values)

    def at(self, needed: Mapping[str, float], aim: Aim = "cash") -> Basket | None:
        """Return the best basket for smaller needs of some materials [g]; what is not named stays."""
        with self.session.trial():
            for name, grams in needed.items():
                self.session.set_row_bounds(self._need_rows[name], grams, grams)
            wanted = {**self.needed, **needed}
            kept, self.needed = self.needed, wanted
            try:
                return self.best(aim)
            finally:
                self.needed = kept

    def _basket(self, values: Floats) -> Basket:
        """Copy a solution out of the solver and check it from scratch."""
        bought = tuple(
            Bought(offer=offer, packs=round(float(values[self._packs[k]])))
            for k, offer in enumerate(self.offers)
            if round(float(values[self._packs[k]])) > 0
        )
        taken = tuple(
            supplier.name
            for supplier in self.suppliers
            if any(line.offer.supplier == supplier.name for line in bought)
        )
        delivery = math.fsum(s.delivery for s in self.suppliers if s.name in taken)
        basket = Basket(
            bought=bought,
            suppliers=taken,
            cash=math.fsum(line.cash for line in bought) + delivery,
            consumed=math.fsum(consumed_of(self.needed, bought).values()) + delivery,
        )
        self._verify(basket)
        return basket

    def _verify(self, basket: Basket) -> None:
        for name, grams in self.needed.items():
            held = math.fsum(line.grams for line in basket.bought if line.offer.material == name)
            if held < grams * (1.0 - 1e-9):
                raise InternalError(f"the basket holds {held:g} g of {name}, {grams:g} g are needed")
        for line in basket.bought:
            if line.packs < line.offer.at_least:
                raise InternalError(f"{line.packs} packs of {line.offer.material}, below the least number")
        for supplier in self.suppliers:
            spent = math.fsum(line.cash for line in basket.bought if line.offer.supplier == supplier.name)
            if supplier.name in basket.suppliers and spent < supplier.minimum_order - CENT:
                raise InternalError(f"the order at {supplier.name} is below its minimum")


def consumed_of(needed: Mapping[str, float], bought: Sequence[Bought]) -> dict[str, float]:
    """Return what is used of each material in money: its cheapest packs first."""
    found = {}
    for name, grams in needed.items():
        left, money = grams, 0.0
        for line in sorted(
            (line for line in bought if line.offer.material == name),
            key=lambda line: (line.offer.price / line.offer.size_g, line.offer.size_g),
        ):
            used = min(left, line.grams)
            money += used * line.offer.price / line.offer.size_g
            left -= used
        found[name] = money
    return found
