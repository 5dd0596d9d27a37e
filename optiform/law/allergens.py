"""Which fragrance allergens an ingredient list must name."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date

from optiform.law.models import Allergen, Product
from optiform.library.models import Frozen
from optiform.tolerances import ROUNDING


class Declared(Frozen):
    """A fragrance allergen that must be named: its label name, its amount, what it is made of."""

    name: str
    percent: float
    threshold: float
    members: tuple[str, ...]
    source: str


def in_force(allergens: Collection[Allergen], on: date) -> tuple[Allergen, ...]:
    """Return the allergens of a day, one per label name: of several rows for a name the latest."""
    latest: dict[str, Allergen] = {}
    for entry in sorted(allergens, key=lambda entry: entry.valid_from or date.min):
        if (entry.valid_from or on) <= on:
            latest[entry.group_name.casefold()] = entry
    return tuple(sorted(latest.values(), key=lambda entry: entry.group_name.casefold()))


def declarable(
    allergens: Collection[Allergen],
    percent_by_inci: Mapping[str, float],
    product: Product,
    on: date,
) -> tuple[Declared, ...]:
    """Return the fragrance allergens whose amount is above the threshold of the product, in alphabetical order.

    Parameters
    ----------
    percent_by_inci : mapping of str to float
        % w/w of each substance in the finished product, allergens inside perfumes and oils included.

    Notes
    -----
    Exactly at the threshold is not above it. Members of a group are added up, a cautious reading of a grouped entry.
    The result is no better
    than the composition: an essential oil entered as one substance hides its linalool.
    Thresholds: Annex III of Regulation (EC) 1223/2009, more than 0.01 % in rinse-off and 0.001 % in
    leave-on products.
    """
    by_folded: dict[str, float] = {}
    for inci, percent in percent_by_inci.items():
        by_folded[inci.casefold()] = by_folded.get(inci.casefold(), 0.0) + percent
    found = []
    for entry in in_force(allergens, on):
        names = dict.fromkeys((entry.group_name, *entry.members))
        folded = dict.fromkeys(name.casefold() for name in names)
        percent = sum(by_folded.get(name, 0.0) for name in folded)
        threshold = entry.threshold(product)
        if percent > threshold + ROUNDING:
            present = tuple(name for name in names if by_folded.get(name.casefold(), 0.0) > 0)
            found.append(
                Declared(
                    name=entry.group_name,
                    percent=percent,
                    threshold=threshold,
                    members=present,
                    source=entry.source,
                )
            )
    return tuple(found)
