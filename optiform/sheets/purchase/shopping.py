"""Makes the shopping list of one batch or of many that share materials and stock."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from optiform.faults import BadInput, Fault
from optiform.library.models import Frozen, Library
from optiform.sheets.purchase.near_misses import NearMiss, near_misses
from optiform.sheets.purchase.offers import Aim, Basket, Bought, Offer, Supplier, consumed_of
from optiform.sheets.purchase.packs import best_basket
from optiform.showing import Showing
from optiform.solver import NO_LIMIT, Clock
from optiform.tolerances import MONEY, ROUNDING

SAME_MONEY = 0.01
"""Sums that differ by less than this, or by less than one in a hundred, are not told apart in words."""


class Make(Frozen):
    """One product of a plan: its formula, and how much of it is made.

    Attributes
    ----------
    lines : tuple of (str, float)  [% w/w]
    batch_g : float  [g]
    times : int
        Batches of that size.
    """

    title: str
    lines: tuple[tuple[str, float], ...]
    batch_g: float
    times: int = 1

    @property
    def grams(self) -> dict[str, float]:
        """Return the grams of each material."""
        return {
            name: percent * self.batch_g * self.times / 100.0 for name, percent in self.lines if percent > 0
        }


class ShoppingLine(Frozen):
    """The need of one material, its stock, its packs, and what is left of it.

    Attributes
    ----------
    needed_g, stock_g, from_stock_g, to_buy_g : float  [g]
        Stock is None where there is enough of it whatever is needed.
    bought_g, left_g : float  [g]
        What the packs hold; what of them is left after the batches.
    cash, consumed, left_value : float
        Money for the packs, for what is used of them, and for what is left of them.
    by_weight : bool
        No pack is known: bought by weight at the library's price.
    tap : bool
        Water, not bought.
    """

    material: str
    name: str
    needed_g: float
    stock_g: float | None
    from_stock_g: float
    to_buy_g: float
    packs: tuple[Bought, ...] = ()
    bought_g: float = 0.0
    left_g: float = 0.0
    cash: float = 0.0
    consumed: float = 0.0
    left_value: float = 0.0
    by_weight: bool = False
    tap: bool = False


class SupplierOrder(Frozen):
    """The order at one supplier."""

    supplier: str
    packs: int
    goods: float
    delivery: float


class Shopping(Showing, Frozen):
    """A shopping list, proven best for its aim unless the time was over before.

    Attributes
    ----------
    cash : float
        Money out: packs, what is bought by weight, and delivery.
    consumed : float
        What of that goes into the batches, delivery included.
    left_value : float
        cash - consumed: what stands on the shelf afterwards.
    stock_value : float
        Stock used up, at the library's prices; paid for before, so not in the cash.
    gap : float
        No purchase of these packs has less of the aim by more than this: above 0 where the time was over.
    ties_broken : bool
        Whether no purchase that uses as little has less cash at the same suppliers, where that was the aim.
    """

    title: str = ""
    currency: str
    aim: Aim
    makes: tuple[Make, ...]
    lines: tuple[ShoppingLine, ...]
    orders: tuple[SupplierOrder, ...]
    cash: float
    consumed: float
    left_value: float
    stock_value: float
    gap: float = 0.0
    ties_broken: bool = True
    near_misses: tuple[NearMiss, ...] = ()
    notes: tuple[str, ...] = ()


def stock_of(library: Library) -> dict[str, float | None]:
    """Return the stock that a library states [g], by material id."""
    return {m.id: m.stock_g for m in library.materials if m.stock_g is not None}


def offers_of(library: Library) -> tuple[Offer, ...]:
    """Return the packs of a library as offers."""
    return tuple(
        Offer(material=pack.material, size_g=pack.size_g, price=pack.price, supplier=pack.supplier)
        for pack in library.packs
    )


def shopping(
    makes: Sequence[Make],
    library: Library,
    *,
    stock: Mapping[str, float | None] | None = None,
    offers: Sequence[Offer] | None = None,
    suppliers: Sequence[Supplier] = (),
    aim: Aim = "cash",
    spare_percent: float = 0.0,
    clock: Clock = NO_LIMIT,
) -> Shopping:
    """Return the packs to buy for some batches, what is left of them, and near misses.

    Parameters
    ----------
    stock : mapping of str to float or None  [g], optional
        On the shelf, by material id; None: enough. The library's own stock by default.
    offers : sequence of Offer, optional
        The library's packs by default.
    suppliers : sequence of Supplier
        Least orders and delivery charges.
    aim : str
        cash: the least money out; consumed: the least money for what is used, the rest counted as
        stock. The other one breaks ties.
    spare_percent : float  [%]
        Bought above the need, for what sticks to beakers.
    clock : Clock
        Once its time is over the best so far is returned, with its gap.

    Raises
    ------
    BadInput
        A least order that what is needed and on offer cannot fill.
    OutOfTime
        If the time is over before any purchase is found that fills the least orders.
    """
    held = stock_of(library) if stock is None else dict(stock)
    shop = offers_of(library) if offers is None else tuple(offers)
    gross = _gross(makes, spare_percent)
    to_buy = {name: _to_buy(grams, held.get(name, 0.0)) for name, grams in gross.items()}
    offered = {offer.material for offer in shop}
    packed = {name: grams for name, grams in to_buy.items() if name in offered and grams > 0}
    basket = _basket(packed, shop, suppliers, aim, clock)
    lines = _lines(gross, held, to_buy, library, basket)
    orders = _orders(basket, suppliers)
    to_tell = aim == "cash" and basket.gap <= MONEY
    return Shopping(
        currency=library.currency,
        aim=aim,
        makes=tuple(makes),
        lines=lines,
        orders=orders,
        **_money(lines, orders, library),
        gap=basket.gap if basket.gap > MONEY else 0.0,
        ties_broken=basket.ties_broken,
        near_misses=near_misses(packed, shop, suppliers, basket, gross, held, clock) if to_tell else (),
        notes=tuple(_notes(lines, library, aim, suppliers)),
    )


def _gross(makes: Sequence[Make], spare_percent: float) -> dict[str, float]:
    total: dict[str, float] = {}
    for make in makes:
        for name, grams in make.grams.items():
            total[name] = total.get(name, 0.0) + grams
    return {name: grams * (1.0 + spare_percent / 100.0) for name, grams in total.items()}


def _to_buy(grams: float, stock: float | None) -> float:
    if stock is None:
        return 0.0
    left = grams - stock
    return left if left > ROUNDING else 0.0


def _basket(
    packed: Mapping[str, float], shop: Sequence[Offer], suppliers: Sequence[Supplier], aim: Aim, clock: Clock
) -> Basket:
    found = best_basket(packed, shop, suppliers, aim, clock)
    if found is None:
        named = ", ".join(f"{s.name} ({s.minimum_order:g})" for s in suppliers if s.minimum_order > 0)
        message, allowed = "no purchase reaches the least orders", f"lower than: {named}"
        raise BadInput([Fault("", "[[supplier]] minimum_order", message, allowed)])
    return found


def _lines(
    gross: Mapping[str, float],
    held: Mapping[str, float | None],
    to_buy: Mapping[str, float],
    library: Library,
    basket: Basket,
) -> tuple[ShoppingLine, ...]:
    """Return a line for each material, in the order of the library."""
    found = []
    consumed = consumed_of(to_buy, basket.bought)
    for name in sorted(gross, key=library.arrays.material_index.__getitem__):
        material, tap, grams = library.material[name], name == library.water.id, to_buy[name]
        packs = tuple(line for line in basket.bought if line.offer.material == name)
        bought = math.fsum(line.grams for line in packs)
        cash, used = math.fsum(line.cash for line in packs), consumed[name]
        loose = grams > 0 and not packs
        if loose:
            bought = grams
            cash = used = 0.0 if tap else grams * material.price / 1000.0
        found.append(
            ShoppingLine(
                material=name,
                name=material.name,
                needed_g=gross[name],
                stock_g=held.get(name, 0.0),
                from_stock_g=gross[name] - grams,
                to_buy_g=grams,
                packs=packs,
                bought_g=bought,
                left_g=max(0.0, bought - grams),
                cash=cash,
                consumed=used,
                left_value=max(0.0, cash - used),
                by_weight=loose and not tap,
                tap=loose and tap,
            )
        )
    return tuple(found)


def _money(
    lines: Sequence[ShoppingLine], orders: Sequence[SupplierOrder], library: Library
) -> dict[str, float]:
    """Return the cash, its part that goes into batches, its part left over, and the value of stock used."""
    delivery = math.fsum(order.delivery for order in orders)
    cash = math.fsum(line.cash for line in lines) + delivery
    used = math.fsum(line.consumed for line in lines) + delivery
    stock = math.fsum(line.from_stock_g * library.material[line.material].price for line in lines) / 1000.0
    return {"cash": cash, "consumed": used, "left_value": cash - used, "stock_value": stock}


def _orders(basket: Basket, suppliers: Sequence[Supplier]) -> tuple[SupplierOrder, ...]:
    charges = {supplier.name: supplier.delivery for supplier in suppliers}
    names = dict.fromkeys(line.offer.supplier for line in basket.bought)
    found = []
    for name in sorted(names):
        own = [line for line in basket.bought if line.offer.supplier == name]
        found.append(
            SupplierOrder(
                supplier=name,
                packs=sum(line.packs for line in own),
                goods=math.fsum(line.cash for line in own),
                delivery=charges.get(name, 0.0),
            )
        )
    return tuple(found)


def _notes(
    lines: Sequence[ShoppingLine], library: Library, aim: Aim, suppliers: Sequence[Supplier]
) -> list[str]:
    notes = []
    trust = library.trust.get("price")
    if trust is not None:
        notes.append(f"Prices: {trust}.")
    packed = [line for line in lines if line.packs]
    used = math.fsum(line.consumed for line in packed)
    by_kg = math.fsum(line.to_buy_g * library.material[line.material].price for line in packed) / 1000.0
    if abs(used - by_kg) >= max(SAME_MONEY, by_kg / 100.0):
        notes.append(
            f"What is used of these packs costs {used:.2f} out of their packs, {by_kg:.2f} at the library's prices "
            "per kg, with which formulas and units are costed."
        )
    loose = [line.name for line in lines if line.by_weight]
    if loose:
        notes.append(f"No pack is known, so bought by weight at the library's price: {', '.join(loose)}.")
    least = {supplier.name for supplier in suppliers if supplier.minimum_order > 0}
    filling = [line.name for line in lines if _fills_order(line, least)]
    if filling:
        notes.append(f"More packs than needed, to reach a supplier's least order: {'; '.join(filling)}.")
    if aim == "consumed":
        notes.append(
            "Counted by what is used: packs may be larger than needed, and the rest counts as stock at its price, "
            "if it keeps and is used."
        )
    return notes


def _fills_order(line: ShoppingLine, least: set[str]) -> bool:
    """Tell whether a whole pack of a line could stay away, were it not for a least order."""
    return any(
        pack.offer.supplier in least and pack.packs > pack.offer.at_least and line.left_g >= pack.offer.size_g
        for pack in line.packs
    )
