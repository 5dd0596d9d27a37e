"""The best family: one search over all products, then each formula held at its own ionic strength, and verified."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.families.joint import Wanted, joined
from optiform.families.products import HALF_A_MATERIAL, counted, searched
from optiform.families.settling import Held, no_worse, settled_at_own
from optiform.search.fixed_choices import polish
from optiform.search.ionic_strength import confirmed
from optiform.search.ranking import another_structure
from optiform.solver import Outcome, OutOfTime, Session
from optiform.tolerances import CLEAR, ROUNDING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optiform.families.joint import Block, Joint, Market
    from optiform.families.products import Product
    from optiform.program.reduction.part import Part
    from optiform.solver import Clock
    from optiform.vectors import Flags, Floats

MOVES = 2
"""So often all is searched again at the ionic strengths that the formulas found ask for."""
CLOSE = 0.001
"""Formulas at their own ionic strengths that are behind by less than this part are what the search took them for."""
TRIES = 6


@dataclass(frozen=True, eq=False)
class Best:
    """The best family of a search.

    Attributes
    ----------
    held : Held
    objective : float
        The first goal, as the search found it.
    bound : float
        No family has less of the first goal.
    proven : bool
        Whether every goal in its turn was solved to its end (or to the gap that was asked for).
    """

    held: Held = field(repr=False)
    objective: float
    bound: float
    proven: bool


class FamilySearch:
    """Asks for the best family again and again: with other goals, another ceiling on materials, without one of them.

    Parameters
    ----------
    products : sequence of Product
    market : Market
    gap : float
        Part of the cash within which it is proven to be the least.
    clock : Clock
        Once its time is over the best so far is taken.
    """

    def __init__(self, products: Sequence[Product], market: Market, gap: float, clock: Clock) -> None:
        self.products, self.market, self.gap, self.clock = tuple(products), market, gap, clock
        self.known = {
            material for one in self.products for material in np.flatnonzero(one.alone.amounts > 0).tolist()
        }
        library = market.library
        self.known.update(np.flatnonzero(library.arrays.is_function("preservative")).tolist())
        self.least = -np.inf
        self._last: tuple[object, Held | None] | None = None
        self._blocks: dict[tuple[Product, bytes], tuple[Block, Part]] = {}
        self._counted: dict[Block, Block] = {}

    def among(self, products: Sequence[Product]) -> FamilySearch:
        """Return the same search over other products."""
        return FamilySearch(products, self.market, self.gap, self.clock)

    def _block(self, product: Product, usable: Flags, *, in_number: bool) -> tuple[Block, Part]:
        """Return a product as a block of the materials that may be used; it is worked out once.

        Where the number of materials counts, the block says how many of each function the product needs.
        """
        key = product, usable.tobytes()
        if key not in self._blocks:
            self._blocks[key] = searched(product, usable, self.clock)
        block, part = self._blocks[key]
        if in_number and block not in self._counted:
            library, alone = self.market.library, product.alone.amounts
            self._counted[block] = counted(block, library, alone, self.clock)
        return self._counted[block] if in_number else block, part

    def best(self, wanted: Wanted, goals: Sequence[str], under: float = np.inf) -> Best | None:
        """Return the best family by some goals in turn; None where no family meets what is wanted.

        Parameters
        ----------
        wanted : Wanted
        goals : sequence of str
        under : float
            Only families with less of the first goal are looked for.

        Raises
        ------
        OutOfTime
            If the time is over before any family is found.
        """
        products, moves = self.products, 0
        best: Best | None = None
        self.least = -np.inf
        for _ in range(TRIES):
            try:
                found = self._searched(products, wanted, goals, under, moves < MOVES)
            except _Elsewhere as elsewhere:
                products, moves, best = elsewhere.products, moves + 1, elsewhere.known or best
                continue
            except OutOfTime:
                if best is None:
                    raise
                return replace(best, bound=self.least, proven=False)
            if found is None:
                return None if best is None else replace(best, proven=False)
            moved = _moved(products, found.values) if moves < MOVES else None
            settled = self._held(products, found.values, wanted, goals)
            if settled is not None:
                last = Best(settled, found.objective, found.bound, found.proven)
                best = last if found.proven or best is None else best_of(last, best, goal=goals[0])
                if moved is None or self._reached(settled.of(goals[0]), found.objective, goals[0]):
                    return best
            moves += 1
            products = moved or self._without(products, found.values)
        raise OutOfTime

    def apart(self, wanted: Wanted, goals: Sequence[str]) -> Best | None:
        """Return the family of the choices that each product has alone, unproven; None where they make none.

        Its bound is that of the last search.
        """
        values = [product.alone.values for product in self.products]
        settled = settled_at_own(self.products, self.market, values, wanted, goals)
        return None if settled is None else Best(settled, settled.of(goals[0]), self.least, proven=False)

    def _held(
        self, products: Sequence[Product], values: Sequence[Floats], wanted: Wanted, goals: Sequence[str]
    ) -> Held | None:
        """Return a family at its own ionic strengths; the last one is not worked out twice."""
        asked = tuple(products), tuple(own.tobytes() for own in values), wanted, tuple(goals)
        if self._last is None or self._last[0] != asked:
            self._last = asked, settled_at_own(products, self.market, values, wanted, goals)
        return self._last[1]

    def _reached(self, exact: float, found: float, goal: str) -> bool:
        """Tell whether formulas at their own ionic strengths are as good as the search took them for."""
        room = HALF_A_MATERIAL if goal == "materials" else max(self.gap, CLOSE) * abs(found)
        return exact <= found + room

    def _searched(
        self, products: Sequence[Product], wanted: Wanted, goals: Sequence[str], under: float, early: bool
    ) -> _Searched | None:
        """Return the best family at one ionic strength for each product; None where there is none under a ceiling.

        Raises
        ------
        OutOfTime
            If the time is over before any family is found.
        _Elsewhere
            If a first family asks for other ionic strengths, where that is to be known `early`.
        """
        self.known.update(wanted.keep)
        usable = self._usable(products, wanted)
        in_number = "materials" in goals or wanted.at_most is not None
        pairs = [self._block(product, usable, in_number=in_number) for product in products]
        joint = joined([block for block, _ in pairs], self.market, wanted, goals)
        session = Session(joint.form, clock=self.clock, arrays=True)

        def apart(values: Floats) -> tuple[Floats, ...]:
            values = np.where(joint.form.integer, np.round(values), values)
            return tuple(
                part.full(joint.own(place, values)[: len(part.columns)])
                for place, (_, part) in enumerate(pairs)
            )

        def look(known: Outcome) -> None:
            if early and goals[0] != "materials" and known.values is not None:
                self._stay(products, apart(known.values), known.objective, wanted, goals)

        first, last = self._in_turn(session, joint, goals, under, look)
        if first.status == "infeasible":
            return None
        if last.values is None:
            raise OutOfTime
        own = apart(last.values)
        proven = first.status == last.status == "solved" and all(product.proven for product in products)
        return _Searched(own, first.objective, first.bound, proven)

    def _stay(
        self,
        products: Sequence[Product],
        values: Sequence[Floats],
        objective: float,
        wanted: Wanted,
        goals: Sequence[str],
    ) -> None:
        """Raise `_Elsewhere` where formulas at their own ionic strengths do not reach what a search took them for."""
        moved = _moved(products, values)
        if moved is None:
            return
        settled = self._held(products, values, wanted, goals)
        if settled is None:
            raise _Elsewhere(moved, None)
        if not self._reached(settled.of(goals[0]), objective, goals[0]):
            raise _Elsewhere(moved, Best(settled, objective, self.least, proven=False))

    def _in_turn(
        self,
        session: Session,
        joint: Joint,
        goals: Sequence[str],
        under: float,
        look: Callable[[Outcome], None],
    ) -> tuple[Outcome, Outcome]:
        """Return the outcome by the first goal, and by all in turn; a goal that was stopped is the last."""
        first: Outcome | None = None
        last = Outcome("stopped", np.inf, -np.inf)
        for goal in goals:
            objective = joint.objectives[goal]
            session.accept_within_part(self._part(goal))
            session.set_objective(objective)
            found = self._by(session, joint, goal, *((under, look) if first is None else (np.inf, None)))
            if first is None and found.status != "infeasible":
                self.least = found.bound
            if found.values is None and last.values is not None:
                return first or found, replace(last, status="stopped")
            first, last = first or found, found
            if found.status != "solved" or found.values is None:
                break
            session.add_row(no_worse(goal, objective, found.objective))
        return first or last, last

    def _by(
        self,
        session: Session,
        joint: Joint,
        goal: str,
        under: float,
        look: Callable[[Outcome], None] | None,
    ) -> Outcome:
        """Return the best by one goal: first among few materials, then whatever is better, or the proof.

        Notes
        -----
        The few are those of the formulas found so far and those that a relaxation takes.
        """
        with session.trial():
            session.relax()
            loose = session.solve()
        if loose.values is None:
            return loose
        self._remember(joint, loose.values)
        hurried = look is not None and np.isfinite(self.clock.left())
        start = self._one_by_one(session, joint, under) if hurried else None
        known = self._among_known(session, joint, under if start is None else start.objective)
        if start is not None and known.values is None:
            known = start if known.status == "infeasible" else replace(start, status="stopped")
        if look is not None:
            self.least = loose.bound
            look(known)
        if known.values is not None and known.status == "stopped":
            return replace(known, bound=loose.bound)
        if known.values is None:
            found = session.below(under, tries=0)
        else:
            found = self._improved(session, goal, known, loose.bound)
        if found.values is not None:
            self._remember(joint, found.values)
        return found

    def _improved(self, session: Session, goal: str, known: Outcome, least: float) -> Outcome:
        """Return what is better than a family that is known; or that one, proven.

        `least` is a bound that was proven before.
        """
        size = abs(known.objective)
        cutoff = known.objective - max(CLEAR * max(1.0, size), self._part(goal) * size)
        if goal == "materials":
            cutoff = known.objective - HALF_A_MATERIAL
            least = float(np.ceil(least - CLEAR))
        if least > cutoff:
            return replace(known, bound=least)
        better = session.below(cutoff, tries=0)
        if better.status == "infeasible":
            return replace(known, bound=known.objective if goal == "materials" else cutoff)
        return replace(known, status="stopped", bound=better.bound) if better.values is None else better

    def _one_by_one(self, session: Session, joint: Joint, under: float) -> Outcome | None:
        """Return a family found by choosing for one product at a time, from what each has alone; None where none is.

        It is there soon: a search among few materials for all products may take longer than there is time.
        """
        own = [np.flatnonzero(block.form.integer) for block in joint.blocks]
        found: Outcome | None = None
        values = np.zeros(joint.form.columns)
        for start, block in zip(joint.starts, joint.blocks, strict=True):
            values[start : start + block.form.columns] = block.alone
        for free in (None, *range(len(own))):
            with session.trial():
                for place, columns in enumerate(own):
                    if place != free:
                        held = joint.starts[place] + columns
                        session.hold_columns(held, np.round(values[held]))
                better = session.below(under if found is None else found.objective)
            if better.values is not None:
                found, values = replace(better, status="solved"), better.values
        return found

    def _among_known(self, session: Session, joint: Joint, under: float) -> Outcome:
        """Return the best that is made of materials of the formulas and shelves found so far."""
        with session.trial():
            for material, column in joint.shelf.items():
                if material not in self.known:
                    session.set_column_bounds(column, 0.0, 0.0)
            return session.below(under)

    def _remember(self, joint: Joint, values: Floats) -> None:
        """Take the materials on a shelf, also those in part, among the ones that are looked at first."""
        self.known.update(material for material, column in joint.shelf.items() if values[column] > CLEAR)

    def _part(self, goal: str) -> float:
        """Return the part of a goal within which it is proven to be the least."""
        return self.gap if goal == "cash" else 0.0

    def _usable(self, products: Sequence[Product], wanted: Wanted) -> Flags:
        """Flag the materials that may be used at all, shape (n,)."""
        usable = np.ones(products[0].program.size, dtype=bool)
        usable[list(wanted.without)] = False
        return usable

    def _without(self, products: Sequence[Product], values: Sequence[Floats]) -> tuple[Product, ...]:
        """Keep out the structures that cannot hold at their own ionic strength."""
        failing = [not _holds(product, own) for product, own in zip(products, values, strict=True)]
        if not any(failing):
            raise OutOfTime
        return tuple(
            product.without(another_structure(product.program, own)) if bad else product
            for product, own, bad in zip(products, values, failing, strict=True)
        )


@dataclass(frozen=True, eq=False)
class _Searched:
    """What a search found: the columns of each product's program, and how good it is."""

    values: tuple[Floats, ...]
    objective: float
    bound: float
    proven: bool


class _Elsewhere(Exception):
    """A family that was found asks for other ionic strengths than those of the search; it may hold nevertheless."""

    def __init__(self, products: tuple[Product, ...], known: Best | None) -> None:
        self.products, self.known = products, known
        super().__init__()


def best_of(*found: Best, goal: str) -> Best:
    """Return the best of some families, with what the search of the first knew of any."""
    return replace(found[0], held=min((one.held for one in found), key=lambda held: held.of(goal)))


def _holds(product: Product, values: Floats) -> bool:
    """Tell whether a structure holds at its own ionic strength, near enough to the product's own best."""
    polished = polish(product.program, values)
    ceiling = np.inf if product.ceiling is None else product.ceiling
    return polished is not None and polished.objective <= ceiling + ROUNDING


def _moved(products: Sequence[Product], values: Sequence[Floats]) -> tuple[Product, ...] | None:
    """Return products at the ionic strengths that their formulas ask for; None where they are there."""
    programs = [confirmed(product.program, own) for product, own in zip(products, values, strict=True)]
    if not any(program is not None for program in programs):
        return None
    return tuple(
        product if program is None else product.at(program)
        for product, program in zip(products, programs, strict=True)
    )
