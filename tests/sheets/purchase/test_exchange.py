"""Exchanges of two materials, against every pair of ways."""

import itertools

import numpy as np
import pytest

from optiform.sheets.purchase.exchange import exchanged


def cost(spent, fill):
    return int(sum(spent)) + sum(
        int(table[min(money, len(table) - 1)]) for table, money in zip(fill, spent, strict=False)
    )


@pytest.mark.parametrize("seed", range(20))
def test_no_exchange_of_two_saves_money_at_the_end(seed):
    random = np.random.default_rng(seed)
    ways = [random.integers(0, 60, size=(random.integers(1, 6), 3)) for _ in range(5)]
    besides = random.integers(0, 20, size=3)
    fill = [
        np.array([*(order - c + (random.integers(0, 5) if c else 0) for c in range(order)), 0])
        for order in (70, 90)
    ]
    begun = [0] * 5

    def costs(chosen):
        return cost(besides + sum(own[way] for own, way in zip(ways, chosen, strict=True)), fill)

    found = exchanged(ways, begun, besides, fill, 0)
    assert costs(found) <= costs(begun)
    for one, other in itertools.combinations(range(5), 2):
        for way, its in itertools.product(range(len(ways[one])), range(len(ways[other]))):
            tried = [*found]
            tried[one], tried[other] = way, its
            assert costs(tried) >= costs(found)


def test_it_ends_at_its_goal():
    ways = [np.array([[10, 0], [6, 0], [2, 0]]), np.array([[4, 0], [3, 0]])]
    none = np.zeros(1, dtype=np.int64)
    assert exchanged(ways, [0, 0], np.zeros(2, dtype=np.int64), [none], 14) == [0, 0]
    assert exchanged(ways, [0, 0], np.zeros(2, dtype=np.int64), [none], 13) == [2, 1]
