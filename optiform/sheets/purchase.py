"""Which packs to buy: an integer program over packs and suppliers, proven best."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.program import Form, SparseRow
from optiform.sheets.offers import CENT, Bought, basket_of, least_orders_met, verify
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from optiform.library.arrays import Floats
    from optiform.sheets.offers import Aim, Basket, Offer, Supplier


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

    def row(self, terms: Iterable[tuple[int, float]], lower: float, upper: float) -> None:
        pairs = [(column, value) for column, value in terms if value]
        self.rows.append(([column for column, _ in pairs], [value for _, value in pairs], lower, upper))

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
        for name in self.needed:
            self._cover(rows, name)
        self._bind(rows)
        self.session = Session(rows.form(self._money("cash")))

    def _most(self, offer: Offer) -> int:
        """Return how many packs of an offer can ever make sense."""
        most = max(math.ceil(self.needed[offer.material] / offer.size_g - 1e-12), offer.at_least)
        least = max((s.minimum_order for s in self.suppliers if s.name == offer.supplier), default=0.0)
        if least > 0 and offer.price > 0:
            most += math.ceil(least / offer.price)
        return most

    def _cover(self, rows: _Rows, name: str) -> None:
        """Demand that what is used adds up to what is needed."""
        own = [k for k, offer in enumerate(self.offers) if offer.material == name]
        rows.row([(self._used[k], 1.0) for k in own], self.needed[name], self.needed[name])

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
            own = [
                (self._packs[k], o.price) for k, o in enumerate(self.offers) if o.supplier == supplier.name
            ]
            if supplier.minimum_order > 0:
                rows.row([*own, (order, -supplier.minimum_order)], 0.0, np.inf)
        self._columns = len(rows.lower)

    def best(self, aim: Aim, *, ties: bool = True) -> Basket | None:
        """Return the basket that costs least, and among those the one that costs least by the other count.

        None where the offers cannot meet the needs (a least order that nothing fills). Without `ties`
        any of the baskets that cost least.
        """
        first, second = self._money(aim), self._money("consumed" if aim == "cash" else "cash")
        with self.session.trial():
            self.session.set_objective(first)
            found = self.session.solve().values
            if found is None:
                return None
            if ties:
                own = np.flatnonzero(first)
                self.session.add_row(SparseRow(own, first[own], -np.inf, float(first @ found) + CENT))
                self.session.set_objective(second)
                tied = self.session.solve().values
                found = found if tied is None else tied
        bought = [
            Bought(offer=offer, packs=round(float(found[self._packs[k]])))
            for k, offer in enumerate(self.offers)
            if round(float(found[self._packs[k]])) > 0
        ]
        basket = basket_of(self.needed, bought, self.suppliers)
        verify(self.needed, basket, self.suppliers)
        return basket

    def _money(self, aim: Aim) -> Floats:
        """Return what each column costs."""
        money = np.zeros(self._columns)
        if aim == "cash":
            money[self._packs] = [offer.price for offer in self.offers]
        else:
            money[self._used] = [offer.price / offer.size_g for offer in self.offers]
        money[self._orders] = [supplier.delivery for supplier in self.suppliers]
        return money


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

    Notes
    -----
    Without suppliers that ask for anything the materials do not touch each other, and each is its own
    small program. With them one program finds from whom to order; then the materials are solved alone
    at those suppliers, which breaks ties, and the sum is held against the one program. Where a least
    order binds, so that the materials do touch, the one program stands and ties are left as they fall.
    """
    needed = {name: grams for name, grams in needed.items() if grams > 0}
    asking = [s for s in suppliers if s.minimum_order > 0 or s.delivery > 0]
    if not asking:
        return _apart(needed, offers, (), aim)
    whole = Market(needed, offers, asking).best(aim, ties=False)
    if whole is None:
        return None
    shut = {supplier.name for supplier in asking} - set(whole.suppliers)
    apart = _apart(needed, [offer for offer in offers if offer.supplier not in shut], asking, aim)
    if apart is not None and getattr(apart, aim) <= getattr(whole, aim) + CENT:
        return apart
    return whole


def _apart(
    needed: Mapping[str, float], offers: Sequence[Offer], suppliers: Sequence[Supplier], aim: Aim
) -> Basket | None:
    """Return the purchase of each material by itself, or None where it leaves a least order unfilled."""
    bought: list[Bought] = []
    for name, grams in needed.items():
        own = alone(name, grams, offers, aim)
        if own is None:
            return None
        bought += own
    if not least_orders_met(bought, suppliers):
        return None
    basket = basket_of(needed, bought, suppliers)
    verify(needed, basket, suppliers)
    return basket


def alone(name: str, grams: float, offers: Sequence[Offer], aim: Aim) -> tuple[Bought, ...] | None:
    """Return the best packs for one material, whatever its suppliers ask; None without an offer."""
    own = [offer for offer in offers if offer.material == name]
    if not own:
        return None
    if grams <= 0:
        return ()
    found = Market({name: grams}, own).best(aim)
    return None if found is None else found.bought
