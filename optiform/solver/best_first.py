"""Searches the leaves of a branch and bound, the lowest bound first."""

from __future__ import annotations

from dataclasses import replace
from heapq import heapify, heappop, heappush
from itertools import count
from typing import TYPE_CHECKING

import numpy as np

from optiform.solver.clock import OutOfTime
from optiform.solver.leaves import ROOT
from optiform.solver.outcome import Outcome
from optiform.tolerances import CLEAR, ROUNDING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.solver.leaves import Leaf, Node
    from optiform.solver.reoptimising import Reoptimising
    from optiform.vectors import Floats, Indices

TRIES = 8
"""So many choices at most are tried out at each branching: those that are nearest to a half."""
RELIABLE = 4
"""What a choice brought in so many trials is taken to be what it brings."""
NOTHING = Outcome("infeasible", np.inf, np.inf)


class Search:
    """A best-first search over leaves, until the lowest bound is no better than what was found, or than a cutoff.

    Parameters
    ----------
    session : Reoptimising
        With its choices relaxed.
    whole : ndarray of int
        The columns that must be whole.
    cutoff : float
        Only what is better is looked for.
    left : int
        Relaxations that may be solved.
    """

    def __init__(self, session: Reoptimising, whole: Indices, cutoff: float, left: int) -> None:
        self.left = left
        self._session, self._whole, self._cutoff = session, whole, cutoff
        self._duality = session.duality()
        self._best = NOTHING
        self._open: list[tuple[float, int, Node]] = []
        self._order = count()
        self._closed: list[Leaf] = []

    def run(self, starts: Sequence[tuple[Leaf, ...]]) -> Outcome | None:
        """Return the best solution, or that there is none, or that time is over; None where it takes too long.

        Of the sets of leaves from which the search may begin, it takes the one with the fewest under the cutoff.
        """
        fewest = np.inf
        for leaves in starts or [(ROOT,)]:
            nodes = [(leaf, self._session.node(leaf)) for leaf in leaves]
            there = [
                (-np.inf if node is None else self._session.bound(self._duality, node), node)
                for _, node in nodes
            ]
            under = sum(bound < self._cutoff for bound, node in there if node is not None)
            if under < fewest:
                fewest = under
                self._closed = [leaf for leaf, node in nodes if node is None]
                self._open = [(bound, next(self._order), node) for bound, node in there if node is not None]
        heapify(self._open)
        try:
            while self._open and self._open[0][0] < self._limit():
                self._go_on(self._open[0][2])
        except _TooLong:
            return None
        except OutOfTime:
            return replace(self._best, status="stopped", bound=self._open[0][0])
        return self._best

    def leaves(self) -> tuple[Leaf, ...]:
        """Return all leaves as they stand now."""
        return (*self._closed, *(node.leaf for _, _, node in self._open))

    def _limit(self) -> float:
        """Return the bound from which on nothing is asked for."""
        if self._best.values is None:
            return self._cutoff
        return min(self._cutoff, self._best.objective - ROUNDING * max(1.0, abs(self._best.objective)))

    def _go_on(self, node: Node) -> None:
        """Solve the first leaf, or take its solution, or split it."""
        if node.here is None:
            self._replace(self._relaxed(node))
        elif node.here.values is not None:
            choices = self._fractional(node.here.values)
            if choices:
                self._replace(*self._split(node, node.here, choices))
            else:
                self._take(node.here.values)
                self._closed.append(heappop(self._open)[2].leaf)

    def _push(self, node: Node, bound: float) -> None:
        heappush(self._open, (bound, next(self._order), node))

    def _replace(self, *nodes: Node) -> None:
        """Put solved nodes in the place of the first one."""
        heappop(self._open)
        for node in nodes:
            self._push(node, -np.inf if node.here is None else node.here.objective)

    def _relaxed(self, node: Node) -> Node:
        """Return a node with its relaxation solved.

        Raises
        ------
        OutOfTime
        _TooLong
        """
        if self.left <= 0:
            raise _TooLong
        self.left -= 1
        solved = self._session.relaxed(self._duality, node, self._limit())
        if solved.here is not None and solved.here.status == "stopped":
            raise OutOfTime
        return solved

    def _fractional(self, values: Floats) -> list[tuple[int, float]]:
        """Return the choices that a solution takes in part with their values, those nearest to a half first."""
        held = values[self._whole]
        part = held - np.floor(held + CLEAR)
        order = np.argsort(np.abs(part - 0.5), kind="stable")
        return [(int(self._whole[k]), float(held[k])) for k in order.tolist() if part[k] >= CLEAR]

    def _take(self, values: Floats) -> None:
        """Take a solution with whole choices, solved again with these held."""
        held = self._session.held(values, self._whole)
        if held.status == "stopped":
            raise OutOfTime
        if held.values is None:
            raise _TooLong
        if held.objective < self._limit():
            self._best = Outcome("solved", held.objective, held.objective, held.values)

    def _split(self, node: Node, here: Outcome, choices: list[tuple[int, float]]) -> tuple[Node, Node]:
        """Return the halves of a node on the choice that raises the bounds of both the most.

        What a choice brings is tried out until that is known well enough (reliability branching: T. Achterberg, T. Koch
        and A. Martin, Operations Research Letters 33 (2005) 42; from memory).
        """
        limit, tries = self._limit(), TRIES
        best, most = choices[0], -np.inf
        halves: dict[int, tuple[Node, Node]] = {}
        for column, value in choices:
            gains = self._session.gains(column)
            part = value - float(np.floor(value + CLEAR))
            if gains.seen >= RELIABLE:
                expected = [gains.up / gains.seen * (1.0 - part), gains.down / gains.seen * part]
            elif tries > 0:
                tries -= 1
                pair = halves[column] = self._halves(node, column, value)
                expected = [min(_bound(half), limit) - here.objective for half in pair]
                gains.add(expected[0] / (1.0 - part), expected[1] / part)
            else:
                continue
            gain = max(expected[0], ROUNDING) * max(expected[1], ROUNDING)
            if gain > most:
                best, most = (column, value), gain
            if column in halves and min(_bound(half) for half in halves[column]) >= limit:
                break
        return halves.get(best[0]) or self._halves(node, *best)

    def _halves(self, node: Node, column: int, value: float) -> tuple[Node, Node]:
        """Return the two halves of a node, above and below a value of one choice, with their relaxations."""
        below = float(np.floor(value + CLEAR))
        above = self._relaxed(self._session.child(node, column, (below + 1.0, np.inf)))
        return above, self._relaxed(self._session.child(node, column, (-np.inf, below)))


def _bound(node: Node) -> float:
    """Return what the relaxation of a node came to: infinite where it has no solution."""
    return np.inf if node.here is None else node.here.objective


class _TooLong(Exception):
    """Our own search takes longer than the solver's would."""
