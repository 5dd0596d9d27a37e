"""Keeps the leaves of a branch and bound: prices on the rows bound each of them anew in whatever program comes next."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.tolerances import LAST_DIGITS

if TYPE_CHECKING:
    from optiform.program import Form, SparseRow
    from optiform.solver.outcome import Outcome
    from optiform.vectors import Floats, Indices

    Box = dict[int, tuple[float, float]]

FIRST, BUDGET = 400, 40
"""Relaxations that are solved in all searches of the first proof, and of each later one: then the solver's own search
takes less. The first one leaves its leaves to all later ones."""
MOST_LEAVES = 400
"""A search with more leaves than this begins anew next time: many of them then stand where nothing is any more."""


@dataclass(frozen=True, eq=False)
class Leaf:
    """One box of choices, with what it was closed by.

    Attributes
    ----------
    ends : mapping of int to (float, float)
        The least and the most of the choices that were branched on, by their columns in the whole program.
    names : tuple
        Of the rows of the whole program, by which they are known again in another one.
    rows, prices : ndarray
        The rows that have a price, as the relaxation of this box had them last, and the prices.
    added : ndarray
        The same of rows that were added to the program, in their order.
    """

    ends: Mapping[int, tuple[float, float]]
    names: tuple[Hashable, ...] = field(repr=False)
    rows: Indices = field(repr=False)
    prices: Floats = field(repr=False)
    added: Floats = field(repr=False)


ROOT = Leaf({}, (), np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0))
"""All choices open, and no price known."""


@dataclass(frozen=True, eq=False)
class Node:
    """A leaf with its box in the columns of a session, and its relaxation where that was solved there."""

    leaf: Leaf
    box: Box
    here: Outcome | None = None


@dataclass(eq=False)
class Gains:
    """How much the bounds of the two halves rose, in the mean, whenever a choice was branched on: its pseudo-costs.

    Attributes
    ----------
    seen : int
        How often both halves were solved.
    up, down : float
        Sums of the rise for each unit by which the choice had to move.
    """

    seen: int = 0
    up: float = 0.0
    down: float = 0.0

    def add(self, up: float, down: float) -> None:
        """Take what branching brought once more; a half without an end says nothing of how much."""
        if np.isfinite(up) and np.isfinite(down):
            self.seen, self.up, self.down = self.seen + 1, self.up + up, self.down + down


class Memory:
    """What a proof leaves to the next one: the leaves of each of its searches, in their order, and pseudo-costs.

    Notes
    -----
    The leaves of any search hold every choice there is, so that a search may begin from those of any other: those of
    the same search in the last proof are the most likely to be closed still.

    Parameters
    ----------
    left : int
        Relaxations that may be solved before the solver's own search goes on; those of each search are taken off.
    """

    def __init__(self, left: int = FIRST) -> None:
        self.left = left
        self._before: tuple[tuple[Leaf, ...], ...] = ()
        self._kept: list[tuple[Leaf, ...]] = []
        self.gains: dict[int, Gains] = {}
        self._names: tuple[Hashable, ...] = ()

    def again(self, left: int | None = None) -> Memory:
        """Return the memory with which the next proof begins, or the same one begins anew with what is left to it."""
        later = Memory(self.left if left is None else left)
        later._before = (*self._kept, *self._before[len(self._kept) :])
        later.gains, later._names = self.gains, self._names
        return later

    def named(self, names: tuple[Hashable, ...]) -> tuple[Hashable, ...]:
        """Return the names of rows: the very tuple of the last program, where it has the same ones."""
        if names != self._names:
            self._names = names
        return self._names

    def starts(self) -> tuple[tuple[Leaf, ...], ...]:
        """Return those leaves from which the next search may begin: of the search in its place, and of the last one."""
        place = len(self._kept)
        return (*self._before[place : place + 1], *self._kept[-1:]) or ((ROOT,),)

    def keep(self, leaves: tuple[Leaf, ...]) -> None:
        """Take the leaves of a search that has ended."""
        self._kept.append(leaves if len(leaves) <= MOST_LEAVES else (ROOT,))


class WeakDuality:
    """Says for any prices on the rows of a program what no solution in a box of columns is below.

    For prices y of the right sign every solution has c.x >= y.b + min (c - yA).x, the least over the box. Nothing in
    this has to be believed of a solver, nor of the program for which the prices were the best.

    Parameters
    ----------
    form : Form
    added : sequence of SparseRow
        Rows that the program has besides.
    objective : ndarray, shape (columns,)
    """

    def __init__(self, form: Form, added: Sequence[SparseRow], objective: Floats) -> None:
        self._objective = objective
        owners = [np.full(len(one.indices), form.rows + place) for place, one in enumerate(added)]
        self._owner = np.concatenate([form.owner, *owners])
        self._indices = np.concatenate([form.indices, *(one.indices for one in added)])
        self._values = np.concatenate([form.values, *(one.values for one in added)])
        self._lower = np.concatenate([form.row_lower, [one.lower for one in added]])
        self._upper = np.concatenate([form.row_upper, [one.upper for one in added]])

    def bound(self, prices: Floats, lower: Floats, upper: Floats) -> float:
        """Return what no solution between some bounds of the columns is below, shapes (rows,) and (columns,)."""
        return self._least(self._objective, prices, lower, upper)

    def refusal(self, ray: Floats, lower: Floats, upper: Floats, above: float) -> Floats | None:
        """Return prices that bound an empty box above a limit, from a ray that proves it empty; None if it does not."""
        nothing = np.zeros(len(self._objective))
        for prices in (ray, -ray):
            worth = self._least(nothing, prices, lower, upper)
            if worth > 0.0:
                scaled = prices * (above / worth)
                return scaled if self.bound(scaled, lower, upper) > above / 2.0 else None
        return None

    def _least(self, objective: Floats, prices: Floats, lower: Floats, upper: Floats) -> float:
        prices = np.where(np.isfinite(self._lower), prices, np.minimum(prices, 0.0))
        prices = np.where(np.isfinite(self._upper), prices, np.maximum(prices, 0.0))
        priced = prices != 0
        side = np.where(prices > 0, self._lower, self._upper)
        paid = np.bincount(
            self._indices, weights=self._values * prices[self._owner], minlength=len(objective)
        )
        rest = objective - paid
        moving = rest != 0
        ends = np.where(rest > 0, lower, upper)
        terms = np.concatenate([prices[priced] * side[priced], rest[moving] * ends[moving]])
        return float(terms.sum() - LAST_DIGITS * np.abs(terms).sum())
