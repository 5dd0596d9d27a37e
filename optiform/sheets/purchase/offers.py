"""Defines what can be bought, and computes what a purchase costs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Literal

from pydantic import Field

from optiform.faults import InternalError
from optiform.library.models import Frozen
from optiform.tolerances import MONEY, ROUNDING

Aim = Literal["cash", "consumed"]
Money = Annotated[float, Field(strict=True, ge=0, le=1e9)]
Grams = Annotated[float, Field(strict=True, gt=0, le=1e9)]
Whole = Annotated[int, Field(strict=True, ge=1, le=10_000)]


class Offer(Frozen):
    """A pack for sale, or one `[[pack]]` of a plan; at least `at_least` of them are sold."""

    material: str = Field(min_length=1, description="a material's id")
    size_g: Grams = Field(description="grams in the pack")
    price: Money = Field(description="of the pack")
    supplier: str = Field(default="", description="who sells it")
    at_least: Whole = Field(default=1, description="fewest packs sold at this price")


class Supplier(Frozen):
    """The least order and delivery charge of a supplier, or one `[[supplier]]` of a plan."""

    name: str = Field(min_length=1, description="as the packs name it")
    minimum_order: Money = Field(default=0.0, description="least value of an order, goods only")
    delivery: Money = Field(default=0.0, description="charge for an order")


class Bought(Frozen):
    """A number of packs of one offer."""

    offer: Offer
    packs: int

    @property
    def cash(self) -> float:
        """Return what the packs cost."""
        return self.packs * self.offer.price

    @property
    def grams(self) -> float:
        """Return what the packs hold [g]."""
        return self.packs * self.offer.size_g


class Basket(Frozen):
    """A purchase: packs, the suppliers ordered from, and its cost.

    Attributes
    ----------
    cash : float
        Money out, delivery included.
    consumed : float
        What of that goes into the batches: each gram at the price of its pack, cheapest packs first,
        and delivery.
    gap : float
        No purchase has less of the aim by more than this; 0 where it is proven best.
    ties_broken : bool
        Whether it is the least cash among purchases that use as little: false where the time was over.
    """

    bought: tuple[Bought, ...]
    suppliers: tuple[str, ...]
    cash: float
    consumed: float
    gap: float = 0.0
    ties_broken: bool = True


def worthwhile(offers: Sequence[Offer]) -> list[Offer]:
    """Return the offers of one material without those that another one beats in every way.

    A pack that holds no more, costs no less and is sold in no smaller numbers is never bought for what it
    holds, whether cash counts or what is used.
    """
    kept: list[Offer] = []
    for offer in sorted(offers, key=lambda offer: (offer.price, -offer.size_g, offer.at_least)):
        if not any(one.size_g >= offer.size_g and one.at_least <= offer.at_least for one in kept):
            kept.append(offer)
    return [offer for offer in offers if any(offer is one for one in kept)]


def consumed_of(needed: Mapping[str, float], bought: Sequence[Bought]) -> dict[str, float]:
    """Return the value of what is used of each material, its cheapest packs first."""
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


def basket_of(needed: Mapping[str, float], bought: Sequence[Bought], suppliers: Sequence[Supplier]) -> Basket:
    """Return a purchase as a basket, with the delivery of every supplier that it buys from.

    Parameters
    ----------
    needed : mapping of str to float  [g]
    suppliers : sequence of Supplier
        Those that ask for a least order or a delivery charge.
    """
    names = {line.offer.supplier for line in bought}
    taken = [supplier for supplier in suppliers if supplier.name in names]
    delivery = math.fsum(supplier.delivery for supplier in taken)
    return Basket(
        bought=tuple(bought),
        suppliers=tuple(supplier.name for supplier in taken),
        cash=math.fsum(line.cash for line in bought) + delivery,
        consumed=math.fsum(consumed_of(needed, bought).values()) + delivery,
    )


def least_orders_met(bought: Sequence[Bought], suppliers: Sequence[Supplier]) -> bool:
    """Tell whether every supplier that is bought from gets its least order."""
    spent: dict[str, float] = {}
    for line in bought:
        spent[line.offer.supplier] = spent.get(line.offer.supplier, 0.0) + line.cash
    return all(spent[s.name] >= s.minimum_order - MONEY for s in suppliers if s.name in spent)


def verify(needed: Mapping[str, float], basket: Basket, suppliers: Sequence[Supplier]) -> None:
    """Check from the packs alone that a purchase covers the need and costs what it says.

    Raises
    ------
    InternalError
        If it lacks something, or breaks what an offer or a supplier asks for.
    """
    for name, grams in needed.items():
        held = math.fsum(line.grams for line in basket.bought if line.offer.material == name)
        if held < grams * (1.0 - ROUNDING):
            raise InternalError(f"the basket holds {held:g} g of {name}, {grams:g} g are needed")
    for line in basket.bought:
        if line.packs < line.offer.at_least:
            raise InternalError(f"{line.packs} packs of {line.offer.material}, below the least number")
    if not least_orders_met(basket.bought, suppliers):
        raise InternalError("an order is below its supplier's minimum")
