"""Lists the sums of money that packs can make, to fill an order up to its least value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Counts = NDArray[np.int64]
NEVER = 10**15
"""More than any sum."""


def cents(money: float) -> float:
    """Return money in cents, free of the noise that binary fractions bring."""
    return round(money * 100.0, 6)


@dataclass(frozen=True)
class ReachableSums:
    """All sums up to a limit that prices make, each taken any number of times.

    Attributes
    ----------
    most : int  [cent]
    prices : tuple of int  [cent]
    reach : tuple of int
        Sets of sums as bits, by how many of the prices may be used: bit n is set where they make n cents.
    """

    most: int
    prices: tuple[int, ...]
    reach: tuple[int, ...]

    @classmethod
    def up_to(cls, most: int, prices: Sequence[int]) -> ReachableSums:
        """Find the sums: a shift of all bits adds a price to every sum, doubled shifts add it many times."""
        every, reach = (1 << (most + 1)) - 1, [1]
        for price in prices:
            sums, step = reach[-1], price
            while step <= most:
                sums |= (sums << step) & every
                step *= 2
            reach.append(sums)
        return cls(most, tuple(prices), tuple(reach))

    @property
    def runs(self) -> tuple[tuple[int, int], ...]:
        """Return the sums as runs without a gap, first and last [cent]; nothing, 0, is the first."""
        bits = np.array([bit == "1" for bit in reversed(bin(self.reach[-1])[2:])], dtype=np.int8)
        edges = np.flatnonzero(np.diff(bits, prepend=0, append=0))
        return tuple((int(first), int(end) - 1) for first, end in edges.reshape(-1, 2))

    @cached_property
    def enough(self) -> Counts:
        """Return for each amount the least sum that reaches it, or `NEVER`, shape (most + 1,)  [cent]."""
        bits = np.array([bit == "1" for bit in reversed(f"{self.reach[-1]:0{self.most + 1}b}")])
        sums = np.where(bits, np.arange(self.most + 1), NEVER)
        return np.minimum.accumulate(sums[::-1])[::-1]

    def made(self, total: int) -> tuple[int, ...]:
        """Return how often each price is taken to make one of the sums."""
        counts = [0] * len(self.prices)
        for place in range(len(self.prices) - 1, -1, -1):
            while not self.reach[place] >> total & 1:
                total -= self.prices[place]
                counts[place] += 1
        return tuple(counts)
