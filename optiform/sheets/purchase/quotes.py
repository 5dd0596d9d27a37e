"""Converts quoted prices to offers: other currencies, and lower prices from a number of packs on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any

from pydantic import ConfigDict, Field

from optiform.brief.validation import read_one
from optiform.faults import Faults, nearest
from optiform.library import Library
from optiform.library.models import Frozen
from optiform.sheets.purchase.offers import Money, Offer, Supplier
from optiform.sheets.purchase.shopping import Shopping, offers_of

Rate = Annotated[float, Field(strict=True, gt=0, le=1e6)]
MOST = 9999
"""So many packs of one kind are the most from which a price may hold."""
DIGITS = 8
"""Decimals of a converted price: all that money deserves, and free of the noise of binary fractions."""


class PackKeys(Offer):
    """One `[[pack]]` of a plan."""

    price_from: dict[str, Money] = Field(
        default_factory=dict,
        description="price of each pack where at least so many are bought, e.g. { 5 = 8.00, 20 = 7.20 }",
    )
    currency: str = Field(default="", description="of its prices; absent: that of its supplier")


class SupplierKeys(Supplier):
    """One `[[supplier]]` of a plan."""

    currency: str = Field(
        default="",
        description="of its least order, its delivery and its packs in this plan; absent: the library's",
    )


class RatesKeys(Frozen):
    """The table `[rates]`."""

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, Rate]
    on: date = Field(
        strict=True,
        description="the day of these rates, printed with them; beside it one key for each currency: what one of it "
        "costs in that of the library, e.g. GBP = 1.17",
    )


@dataclass(frozen=True)
class Quotes:
    """The prices of a plan that are quoted in another currency than that of its library.

    Attributes
    ----------
    on : str
        The day of the rates.
    currency : str
        Of the library.
    rates : mapping of str to float
        What one of each currency costs in that of the library.
    packs : mapping of Offer to str
        The currency in which a pack is quoted; the price of the offer is converted.
    suppliers : mapping of str to str
        The currency of a supplier's least order and delivery.
    """

    on: str
    currency: str
    rates: Mapping[str, float]
    packs: Mapping[Offer, str] = field(repr=False)
    suppliers: Mapping[str, str] = field(repr=False)

    @property
    def told(self) -> str:
        """Return the rates that are used, with their day: "1 GBP = 1.17 EUR (2026-11-20)"."""
        used = {*self.packs.values(), *self.suppliers.values()}
        rates = (f"1 {name} = {rate:g} {self.currency}" for name, rate in self.rates.items() if name in used)
        return f"{', '.join(rates)} ({self.on})" if used else ""

    def factor(self, currency: str, rates: Mapping[str, float]) -> float:
        """Return the factor by which a price changes at other rates."""
        return rates.get(currency, self.rates[currency]) / self.rates[currency] if currency else 1.0

    def paid(self, found: Shopping) -> tuple[str, ...]:
        """Return what each supplier is paid in another currency."""
        sums: dict[tuple[str, str], list[float]] = {}
        for line in found.lines:
            for bought in line.packs:
                if bought.offer in self.packs:
                    key = bought.offer.supplier, self.packs[bought.offer]
                    sums.setdefault(key, []).append(bought.cash)
        for order in found.orders:
            if order.delivery and order.supplier in self.suppliers:
                key = order.supplier, self.suppliers[order.supplier]
                sums.setdefault(key, []).append(order.delivery)
        paid = (
            f"{supplier or 'no supplier named'} {math.fsum(parts) / self.rates[currency]:.2f} {currency}"
            for (supplier, currency), parts in sorted(sums.items())
        )
        told = "; ".join(paid)
        return (f"Paid in another currency at {self.told}, the rate of that day: {told}.",) if told else ()


def quoted(
    mapping: Mapping[str, Any],
    packs: Sequence[tuple[int, PackKeys]],
    suppliers: Sequence[tuple[int, SupplierKeys]],
    library: Library,
    faults: Faults,
) -> tuple[tuple[Offer, ...], tuple[Supplier, ...], Quotes | None]:
    """Return the packs of a plan and its library, and what suppliers ask, in the library's currency.

    Parameters
    ----------
    mapping : mapping
        The plan as written; its table `[rates]` is read here.
    packs, suppliers : sequence of (int, keys)
        Entries of the plan with their numbers. A pack of the plan replaces the library's own of the same kind.
    """
    table = mapping.get("rates")
    read = None if table is None else read_one(RatesKeys, table, "[rates]", faults)
    rates = {} if read is None else dict(read.__pydantic_extra__)
    _check_counts(packs, faults)
    if table is None or read is not None:
        _check_currencies(packs, suppliers, {**rates, library.currency: 1.0}, faults)
    if library.currency in rates:
        faults.add(f"[rates] {library.currency}", "is the library's own currency", allowed="other currencies")
    of = {keys.name: keys.currency for _, keys in suppliers}
    other = {name: word for name, word in of.items() if word in rates and word != library.currency}
    offers = {(o.material, o.size_g, o.supplier, o.at_least): o for o in offers_of(library)}
    foreign = dict[Offer, str]()
    for _, keys in packs:
        word = keys.currency or of.get(keys.supplier, "")
        word = word if word in rates and word != library.currency else ""
        for offer in _expanded(keys, rates.get(word, 1.0) if word else 1.0):
            offers[offer.material, offer.size_g, offer.supplier, offer.at_least] = offer
            if word:
                foreign[offer] = word
    asked = tuple(
        _converted(keys, rates[other[keys.name]] if keys.name in other else 1.0) for _, keys in suppliers
    )
    quotes = None if read is None else Quotes(read.on.isoformat(), library.currency, rates, foreign, other)
    return tuple(offers.values()), asked, quotes


def _check_currencies(
    packs: Sequence[tuple[int, PackKeys]],
    suppliers: Sequence[tuple[int, SupplierKeys]],
    known: Mapping[str, float],
    faults: Faults,
) -> None:
    """Note currencies without a rate."""
    named = [(f"[[pack]] {number}", keys.currency) for number, keys in packs]
    named += [(f"[[supplier]] {number}", keys.currency) for number, keys in suppliers]
    for place, word in named:
        if word and word not in known:
            allowed = f"a rate of it in [rates], with the day: {word} = ..., or {', '.join(known)}"
            faults.add(
                f"{place}, currency", f"'{word}' has no rate", allowed=allowed, nearest=nearest(word, known)
            )


def _check_counts(packs: Sequence[tuple[int, PackKeys]], faults: Faults) -> None:
    """Note prices that start at fewer packs than are sold, or at no whole number."""
    for number, keys in packs:
        for count in keys.price_from:
            if not _count(count) > keys.at_least:
                allowed = f"a whole number above {keys.at_least}, from which `price` holds, up to {MOST}"
                message = f"'{count}' is no number of packs from which another price could hold"
                faults.add(f"[[pack]] {number}, price_from", message, allowed=allowed)


def _count(written: str) -> int:
    """Return a number of packs; 0 where the text is none or has a leading 0, so that 05 is not another 5."""
    plain = written.isascii() and written.isdigit() and not written.startswith("0")
    return int(written) if plain and len(written) <= len(str(MOST)) else 0


def _expanded(keys: PackKeys, rate: float) -> list[Offer]:
    """Return a pack as offers, one for each number from which another price holds."""
    prices = {keys.at_least: keys.price, **{_count(count): price for count, price in keys.price_from.items()}}
    return [
        Offer(
            material=keys.material,
            size_g=keys.size_g,
            price=price if rate == 1.0 else round(price * rate, DIGITS),
            supplier=keys.supplier,
            at_least=count,
        )
        for count, price in prices.items()
        if count
    ]


def _converted(keys: SupplierKeys, rate: float) -> Supplier:
    order, delivery = (round(money * rate, DIGITS) for money in (keys.minimum_order, keys.delivery))
    return Supplier(name=keys.name, minimum_order=order, delivery=delivery)
