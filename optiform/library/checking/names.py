"""Finds the nearest of many names without comparing with every one of them."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterable
from functools import cached_property

from optiform.faults import nearest

FEW = 500
CANDIDATES = 25
LOOKED_UP = 500
COMPARED = 5_000


class Names:
    """Known names and the most similar of them to a wrong one.

    Large sets are searched through the groups of three letters that names share, the rarest groups
    first. After `LOOKED_UP` different wrong names (a whole column is wrong then) no more suggestions
    are made.
    """

    def __init__(self, known: Iterable[str]) -> None:
        self.known = tuple(dict.fromkeys(known))
        self._all = frozenset(self.known)
        self._found: dict[str, str] = {}

    def __contains__(self, name: object) -> bool:
        return name in self._all

    def nearest(self, name: str) -> str:
        """Return the known name most like `name`, or an empty string when none is near."""
        if name not in self._found:
            if len(self._found) >= LOOKED_UP:
                return ""
            self._found[name] = nearest(name[:200], self._candidates(name[:200]))
        return self._found[name]

    def _candidates(self, name: str) -> Iterable[str]:
        if len(self.known) <= FEW:
            return self.known
        shared: Counter[int] = Counter()
        lists = sorted((self._by_letters.get(letters, []) for letters in _letters(name)), key=len)
        compared = 0
        for found in lists:
            compared += len(found)
            if compared > COMPARED and shared:
                break
            shared.update(found)
        best = heapq.nsmallest(
            CANDIDATES, shared, key=lambda i: (-shared[i] / (len(self.known[i]) + len(name)), self.known[i])
        )
        return [self.known[i] for i in best]

    @cached_property
    def _by_letters(self) -> dict[str, list[int]]:
        index: dict[str, list[int]] = {}
        for i, name in enumerate(self.known):
            for letters in _letters(name):
                index.setdefault(letters, []).append(i)
        return index


def _letters(name: str) -> set[str]:
    folded = f" {name.casefold()} "
    return {folded[i : i + 3] for i in range(len(folded) - 2)}
