"""Sums that packs make, against every combination."""

import itertools

import numpy as np
import pytest

from optiform.sheets.purchase.reachable_sums import ReachableSums, cents


@pytest.mark.parametrize("seed", range(20))
def test_sums_are_those_that_every_combination_makes(seed):
    random = np.random.default_rng(seed)
    prices = [int(price) for price in random.integers(3, 30, size=random.integers(1, 4))]
    most = int(random.integers(20, 80))
    every = {
        sum(n * price for n, price in zip(counts, prices, strict=True))
        for counts in itertools.product(range(most // 3 + 1), repeat=len(prices))
    }
    sums = ReachableSums.up_to(most, prices)
    listed = {total for first, last in sums.runs for total in range(first, last + 1)}
    assert listed == {total for total in every if total <= most}
    assert all(later[0] > earlier[1] + 1 for earlier, later in itertools.pairwise(sums.runs))
    for total in listed:
        counts = sums.made(total)
        assert min(counts) >= 0
        assert sum(n * price for n, price in zip(counts, prices, strict=True)) == total


def test_without_prices_the_only_sum_is_nothing():
    assert ReachableSums.up_to(100, ()).runs == ((0, 0),)


def test_money_is_told_in_cents_without_noise():
    assert cents(0.29).is_integer()
    assert cents(1.005) == 100.5
