"""Improves a purchase by a local search that buys two of its materials in other ways at a time."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from optiform.sheets.purchase.reachable_sums import Counts


def exchanged(
    ways: Sequence[Counts], chosen: Sequence[int], besides: Counts, fill: Sequence[Counts], goal: float
) -> list[int]:
    """Return the chosen way of each material after all exchanges of two that save money.

    Parameters
    ----------
    ways : sequence of ndarray, shape (ways, suppliers)  [cent]
        What each way to buy a material costs at each supplier, by material.
    chosen : sequence of int
        The way of each material to begin with.
    besides : ndarray, shape (suppliers,)  [cent]
        What is spent at each supplier in any case, charges included.
    fill : sequence of ndarray  [cent]
        Of each supplier that asks for a least order, what fills an order of 0, 1, ... cents up; the last is for all
        larger ones. Suppliers beyond these ask for none.
    goal : float  [cent]
        It ends when no more than this is spent.
    """
    chosen = list(chosen)
    total = besides + sum(own[way] for own, way in zip(ways, chosen, strict=True))

    def cost(spent: Counts) -> Counts:
        money: Counts = spent.sum(axis=-1)
        for k, table in enumerate(fill):
            money = money + table[np.minimum(spent[..., k], len(table) - 1)]
        return money

    best, improved = int(cost(total)), True
    while improved:
        improved = False
        for one, other in combinations(range(len(ways)), 2):
            if best <= goal:
                return chosen
            rest = total - ways[one][chosen[one]] - ways[other][chosen[other]]
            costs = cost(rest + ways[one][:, None] + ways[other][None])
            if costs.min() < best:
                best, improved = int(costs.min()), True
                chosen[one], chosen[other] = (int(k) for k in np.unravel_index(costs.argmin(), costs.shape))
                total = rest + ways[one][chosen[one]] + ways[other][chosen[other]]
    return chosen
