"""Searches integer programs from the leaves of an earlier search: what closed a leaf mostly closes it again.

After a small move of a program most leaves are closed by the prices that closed them last, at the cost of a few
multiplications; what is left is solved again, and split where it has to be.

Source: M. Guzelsoy and T. K. Ralphs, Duality for mixed-integer linear programs, 2007 (warm starts from the dual
function of a branch and bound; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.solver.best_first import Search
from optiform.solver.leaves import Gains, Leaf, Memory, Node, WeakDuality
from optiform.solver.session import Session

if TYPE_CHECKING:
    from collections.abc import Hashable

    from optiform.program import Form
    from optiform.solver.clock import Clock
    from optiform.solver.leaves import Box
    from optiform.solver.outcome import Outcome
    from optiform.vectors import Floats, Indices

REFUSED = 1e3
"""A box without a solution is closed by a bound of so much (of 1, or of the limit's own size)."""


@dataclass(frozen=True)
class Within:
    """Where the columns and rows of a part stand in the whole program, whose leaves are kept.

    Attributes
    ----------
    columns, rows : ndarray of int
        Column j of the part is ``columns[j]`` of the whole, row r is ``rows[r]``.
    width : int
        How many columns the whole has.
    names : tuple
        Of the rows of the whole, by which they are known again in another program.
    """

    columns: Indices = field(repr=False)
    rows: Indices = field(repr=False)
    width: int
    names: tuple[Hashable, ...] = field(repr=False)


class Reoptimising(Session):
    """A session that searches from the leaves of earlier searches, and hands on those that it ends with.

    Parameters
    ----------
    form : Form
        Part of a whole program.
    within : Within
    memory : Memory
    clock : Clock
    """

    def __init__(self, form: Form, within: Within, memory: Memory, clock: Clock) -> None:
        super().__init__(form, clock=clock, arrays=True)
        self.within = replace(within, names=memory.named(within.names))
        self._memory = memory
        self._position = np.full(within.width, -1, dtype=np.intp)
        self._position[within.columns] = np.arange(len(within.columns))
        self._known: dict[int, tuple[tuple[Hashable, ...], Indices]] = {}

    def solve(self) -> Outcome:
        """Solve what the session holds now, an integer program from the leaves of an earlier search."""
        found = self.searched(np.inf)
        return super().solve() if found is None else found

    def below(self, cutoff: float, *, tries: int | None = None) -> Outcome:
        """Look only for what is better than a cutoff: the outcome is infeasible where nothing is."""
        found = self.searched(cutoff)
        return super().below(cutoff, tries=tries) if found is None else found

    def searched(self, cutoff: float = np.inf) -> Outcome | None:
        """Return what our own search comes to; None where there is nothing to branch on, or it takes too long."""
        whole = np.flatnonzero(self._whole)
        ours = len(whole) > 0 and np.array_equal(self._whole, self.form.integer)
        if not ours or self.form.norms or self._changed or self._memory.left <= 0:
            return None
        with self.trial():
            self.relax()
            search = Search(self, whole, cutoff, self._memory.left)
            found = search.run([leaves for leaves in self._memory.starts() if self._whole_in(leaves)])
        self._memory.keep(search.leaves())
        self._memory.left = 0 if found is None else search.left
        return found

    def _whole_in(self, leaves: tuple[Leaf, ...]) -> bool:
        """Tell whether all that some leaves are branched on is whole here too: only then do they hold every choice."""
        branched = {column for leaf in leaves for column in leaf.ends if column < len(self._position)}
        here = self._position[list(branched)]
        return bool(self.form.integer[here[here >= 0]].all())

    def gains(self, column: int) -> Gains:
        """Return what branching on a column has brought so far."""
        return self._memory.gains.setdefault(int(self.within.columns[column]), Gains())

    def node(self, leaf: Leaf) -> Node | None:
        """Return a leaf as it stands in this program; None where nothing is left in it."""
        box: Box = {}
        for column, (low, high) in leaf.ends.items():
            here = int(self._position[column]) if column < len(self._position) else -1
            least, most = (0.0, 0.0) if here < 0 else self.bounds_of(here)
            if max(low, least) > min(high, most):
                return None
            if here >= 0:
                box[here] = (max(low, least), min(high, most))
        if leaf.names is self.within.names:
            return Node(leaf, box)
        places = self._known_again(leaf.names)[leaf.rows]
        known = places >= 0
        prices = leaf.prices[known]
        return Node(Leaf(leaf.ends, self.within.names, places[known], prices, leaf.added), box)

    def duality(self) -> WeakDuality:
        """Return what bounds boxes of the program as the session holds it now."""
        return WeakDuality(self.form, [content for _, content in self.tangents.added], self._objective)

    def bound(self, duality: WeakDuality, node: Node) -> float:
        """Return what the prices of a leaf prove of it now."""
        prices = self._prices(node.leaf)
        return duality.bound(prices, *self._ends(node)) if prices.any() else -np.inf

    def relaxed(self, duality: WeakDuality, node: Node, limit: float) -> Node:
        """Solve the relaxation of a node, and price its leaf anew."""
        with self.trial():
            for column, ends in node.box.items():
                self.set_column_bounds(column, *ends)
            here = self._solve_linear()
            refused = here.status == "infeasible"
            prices = self._refusal(duality, node, limit) if refused else here.row_dual
        if prices is None:
            return replace(node, here=here)
        priced = np.flatnonzero(prices[: self.form.rows])
        rows, added = self.within.rows[priced], prices[self.form.rows :]
        return Node(Leaf(node.leaf.ends, self.within.names, rows, prices[priced], added), node.box, here)

    def child(self, node: Node, column: int, ends: tuple[float, float]) -> Node:
        """Return the part of a node in which one column lies between other ends."""
        there = {**node.leaf.ends, int(self.within.columns[column]): ends}
        low, high = node.box.get(column, self.bounds_of(column))
        box = {**node.box, column: (max(low, ends[0]), min(high, ends[1]))}
        return Node(replace(node.leaf, ends=there), box)

    def held(self, values: Floats, whole: Indices) -> Outcome:
        """Solve with choices held as a solution has them."""
        with self.trial():
            self.hold_columns(whole, np.round(values[whole]))
            return self._solve_linear()

    def _ends(self, node: Node) -> tuple[Floats, Floats]:
        lower, upper = self._lower.copy(), self._upper.copy()
        for column, ends in node.box.items():
            lower[column], upper[column] = ends
        return lower, upper

    def _prices(self, leaf: Leaf) -> Floats:
        """Return the prices of a leaf on the rows of the session."""
        every = np.zeros(len(self.within.names))
        every[leaf.rows] = leaf.prices
        prices = np.zeros(self.form.rows + len(self.tangents.added))
        prices[: self.form.rows] = every[self.within.rows]
        added = leaf.added[: len(self.tangents.added)]
        prices[self.form.rows : self.form.rows + len(added)] = added
        return prices

    def _known_again(self, names: tuple[Hashable, ...]) -> Indices:
        """Return where each of some names stands among the rows of this program; -1 where it does not."""
        kept = self._known.get(id(names))
        if kept is None:
            place = {name: k for k, name in enumerate(self.within.names)}
            same = names == self.within.names
            found = range(len(names)) if same else [place.get(name, -1) for name in names]
            kept = self._known[id(names)] = (names, np.array(found, dtype=np.intp))
        return kept[1]

    def _refusal(self, duality: WeakDuality, node: Node, limit: float) -> Floats | None:
        """Return prices that prove a box empty, from the ray by which the solver refused it."""
        _, known, ray = self._highs.getDualRay()
        if not known:
            return None
        above = REFUSED * max(1.0, abs(limit) if np.isfinite(limit) else 1.0)
        return duality.refusal(np.asarray(ray, dtype=float), *self._ends(node), above)
