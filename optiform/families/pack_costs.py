"""Straight lines below what packs cost: they tell the relaxation that half a pack costs a whole one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from optiform.sheets.purchase.offers import Offer

MOST = 200
"""Bundles that are looked at; where there are more, the cheapest pack and the cheapest gram bound the cost."""


def underestimates(offers: Sequence[Offer], most: float, least: float = 0.0) -> list[tuple[float, float]]:
    """Return lines (slope, cost at nothing) below the least cash for any need from `least` to `most` grams, above 0.

    Notes
    -----
    The least cash rises in steps with the need; the lines are the lower convex hull of its steps.
    """
    known = bundles(offers, most)
    if known is None:
        cheapest = min(offer.price for offer in offers)
        return [(min(offer.price / offer.size_g for offer in offers), 0.0), (0.0, cheapest)]
    enough = [(grams, cash) for grams, cash in known if grams >= least] or known[-1:]
    corners = [(least, enough[0][1]), *enough]
    hull: list[tuple[float, float]] = []
    for corner in corners:
        while len(hull) > 1 and _above(hull[-2], hull[-1], corner):
            hull.pop()
        hull.append(corner)
    lines = []
    for (grams, cash), (more, dearer) in itertools.pairwise(hull):
        if more > grams:
            slope = (dearer - cash) / (more - grams)
            lines.append((slope, cash - slope * grams))
    return lines or [(0.0, enough[0][1])]


def bundles(offers: Sequence[Offer], most: float) -> list[tuple[float, float]] | None:
    """Return the purchases (grams, cash) that hold more than any cheaper one, up to `most` grams; None if many."""
    found = [(0.0, 0.0)]
    for offer in offers:
        enough = max(math.ceil(most / offer.size_g), offer.at_least)
        if enough > MOST:
            return None
        counts = (0, *range(offer.at_least, enough + 1))
        with_it = [
            (min(grams + count * offer.size_g, most), cash + count * offer.price)
            for grams, cash in found
            for count in counts
        ]
        found = []
        for grams, cash in sorted(with_it, key=lambda bundle: (bundle[1], -bundle[0])):
            if not found or grams > found[-1][0]:
                found.append((grams, cash))
        if len(found) > MOST:
            return None
    return [bundle for bundle in found if bundle[0] > 0]


def _above(one: tuple[float, float], middle: tuple[float, float], other: tuple[float, float]) -> bool:
    """Tell whether the middle of three points lies on or above the line through the other two."""
    return (middle[1] - one[1]) * (other[0] - one[0]) >= (other[1] - one[1]) * (middle[0] - one[0])
