"""The best family: one search over all products, then each formula held at its own ionic strength, and verified."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.families.joint import Wanted, joined
from optiform.families.products import HALF_A_MATERIAL, counts, searched
from optiform.families.settling import Held, holds, moved_to_own, no_worse, settled_at_own
from optiform.program.extended import extended
from optiform.search.incumbent import relaxed
from optiform.search.ranking import another_structure
from optiform.solver import Outcome, OutOfTime, Session
from optiform.tolerances import CLEAR, TOLERANCE
from optiform.vectors import among

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
        self._begun: Floats | None = None

    def among(self, products: Sequence[Product]) -> FamilySearch:
        """Return the same search over other products."""
        return FamilySearch(products, self.market, self.gap, self.clock)

    def _block(self, product: Product, usable: Flags, *, in_number: bool) -> tuple[Block, Part]:
        """Return a product as a block of the materials that may be used, worked out once; with counts if known."""
        key = product, usable.tobytes()
        if key not in self._blocks:
            self._blocks[key] = searched(product, usable, self.clock)
        block, part = self._blocks[key]
        return self._counted.get(block, block) if in_number else block, part

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
            moved = moved_to_own(products, found.values) if moves < MOVES else None
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
        usable = ~among(np.arange(products[0].program.size), wanted.without)
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

        def look(known: Outcome) -> bool:
            if early and goals[0] != "materials" and known.values is not None:
                self._stay(products, apart(known.values), known.objective, wanted, goals)
            return in_number and self._count(session, joint, known.values)

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
        moved = moved_to_own(products, values)
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
        look: Callable[[Outcome], bool],
    ) -> tuple[Outcome, Outcome]:
        """Return the outcome by the first goal, and by all in turn; a goal that was stopped is the last."""
        first: Outcome | None = None
        last = Outcome("stopped", np.inf, -np.inf)
        for place, goal in enumerate(goals):
            objective = joint.objectives[goal]
            session.accept_within_part(self._part(goal))
            session.set_objective(objective)
            found = self._by(session, joint, goals[place:], under, None if place else look, last)
            under = np.inf
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
        goals: Sequence[str],
        under: float,
        look: Callable[[Outcome], bool] | None,
        last: Outcome,
    ) -> Outcome:
        """Return the best by the first of some goals: among few materials, then whatever is better, or the proof.

        Notes
        -----
        The few are those of the formulas found so far and those that a relaxation takes. `last` is what the goal before
        ended with. `look` is shown what was found among the few, and tells whether the session knows more since.
        """
        loose = relaxed(session)
        if loose.values is None:
            return loose
        self._remember(joint, loose.values)
        if last.values is not None and last.values is self._begun:
            known = replace(last, objective=float(joint.objectives[goals[0]] @ last.values))
        else:
            hurried = look is not None and np.isfinite(self.clock.left())
            start = self._one_by_one(session, joint, under) if hurried else None
            under = under if start is None else start.objective
            known = self._among_known(session, joint, goals, under, loose.values)
            if start is not None and known.values is None:
                known = start if known.status == "infeasible" else replace(start, status="stopped")
        if look is not None:
            self.least = loose.bound
            if look(known):
                loose = relaxed(session)
        if known.values is not None and known.status == "stopped":
            return replace(known, bound=loose.bound)
        some = known.values is not None
        found = self._improved(session, goals[0], known, loose) if some else session.below(under, tries=0)
        if found.values is not None:
            self._remember(joint, found.values)
        return found

    def _count(self, session: Session, joint: Joint, known: Floats | None) -> bool:
        """Say in a session how many materials of each function its products need; tell whether that is new to it."""
        new = False
        for place, block in enumerate(joint.blocks):
            if block in self._counted:
                continue
            formulas = [block.alone] if known is None else [block.alone, joint.own(place, known)]
            rows = counts(block, self.market.library, formulas, self.clock)
            for row in rows:
                session.add_row(replace(row, indices=joint.starts[place] + row.indices))
            with_counts = replace(block, form=extended(block.form, [], rows))
            self._counted.update(dict.fromkeys((block, with_counts), with_counts))
            new = new or bool(rows)
        return new

    def _improved(self, session: Session, goal: str, known: Outcome, loose: Outcome) -> Outcome:
        """Return what is better than a family that is known; or that one, proven."""
        size, least = abs(known.objective), loose.bound
        cutoff = known.objective - max(CLEAR * max(1.0, size), self._part(goal) * size)
        if goal == "materials":
            cutoff = known.objective - 1.0 + TOLERANCE
            least = float(np.ceil(least - CLEAR))
        if least > cutoff:
            return replace(known, bound=least)
        with session.trial():
            if loose.reduced_cost is not None and not session.form.norms:
                idle = session.form.integer & (loose.reduced_cost > cutoff - loose.objective + TOLERANCE)
                session.hold_columns(np.flatnonzero(idle), session.form.lower[idle])
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

    def _among_known(
        self, session: Session, joint: Joint, goals: Sequence[str], under: float, mixture: Floats
    ) -> Outcome:
        """Return the best that is made of materials of the formulas and shelves found so far.

        Where the fewest are asked for, the next goal is weighed in: its search begins with what is found here.
        """
        with session.trial():
            for material, column in joint.shelf.items():
                if material not in self.known:
                    session.set_column_bounds(column, 0.0, 0.0)
            if goals[0] != "materials" or len(goals) == 1 or self._part(goals[1]) or np.isfinite(under):
                return session.below(under)
            number, then = joint.objectives["materials"], joint.objectives[goals[1]]
            session.set_objective(number * max(1.0, float(then @ mixture)) + then)
            found = session.solve()
        self._begun = found.values
        return found if found.values is None else replace(found, objective=float(number @ found.values))

    def _remember(self, joint: Joint, values: Floats) -> None:
        """Take the materials on a shelf, also those in part, among the ones that are looked at first."""
        self.known.update(material for material, column in joint.shelf.items() if values[column] > CLEAR)

    def _part(self, goal: str) -> float:
        """Return the part of a goal within which it is proven to be the least."""
        return self.gap if goal == "cash" else 0.0

    def _without(self, products: Sequence[Product], values: Sequence[Floats]) -> tuple[Product, ...]:
        """Keep out the structures that cannot hold at their own ionic strength."""
        failing = [not holds(product, own) for product, own in zip(products, values, strict=True)]
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
