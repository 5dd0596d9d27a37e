"""Finds single changes that make a family possible, each solved to be sure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial

import numpy as np

from optiform.answers.conflict.report import Finder, requirements
from optiform.families.curve import count_of
from optiform.families.joint import Wanted
from optiform.families.model import Collision, FamilyChange, FamilyConflict
from optiform.families.products import Product, used_by
from optiform.families.settling import Held
from optiform.families.solving import Best, FamilySearch
from optiform.program import USED, Key, Program, SparseRow
from optiform.program.extended import extended
from optiform.search.fixed_choices import objective_of
from optiform.solver import Clock, OutOfTime
from optiform.tolerances import TOLERANCE
from optiform.vectors import Flags

WITHIN_STEP = 0.001
"""A wider allowance is told in steps of this."""
HALVINGS = 6
"""So often the range of an allowance that is enough is halved."""


def family_conflict(search: FamilySearch, wanted: Wanted) -> FamilyConflict:
    """Return the single changes of a plan that let its family be made; each was solved.

    Once the time is over those found so far are returned, and the conflict says that it is not complete.
    """
    asked = _Asked(search, wanted)
    found, fewest, collisions = list[FamilyChange](), list[tuple[str, int]](), list[Collision]()
    with suppress(OutOfTime):
        fewest += asked.fewest()
        collisions += asked.cannot_keep()
        found.extend(asked.ways())
        return FamilyConflict(ways=tuple(found), fewest=tuple(fewest), collisions=tuple(collisions))
    return FamilyConflict(
        ways=tuple(found), fewest=tuple(fewest), collisions=tuple(collisions), complete=False
    )


class _Asked:
    """A plan that no family meets, asked again with one of its demands changed."""

    def __init__(self, search: FamilySearch, wanted: Wanted) -> None:
        self.search, self.wanted, self.clock = search, wanted, search.clock

    def fewest(self) -> Iterator[tuple[str, int]]:
        """Yield with how many materials each product can be made by itself, where a plan has a ceiling on them."""
        if self.wanted.at_most is None:
            return
        for product in self.search.products:
            title = product.planned.title
            self.clock.say(f"fewest materials of {title} by itself")
            best = self.search.among([product]).best(Wanted(without=self.wanted.without), ("materials",))
            if best is not None:
                yield title, count_of(self.search.among([product]), best.held)

    def cannot_keep(self) -> Iterator[Collision]:
        """Yield what collides in each product with a material to keep that no product can use."""
        library = self.search.products[0].program.library
        for material in self.wanted.keep:
            named = library.materials[material].id
            self.clock.say(f"why {named} cannot be kept")
            found = [
                _collides(product, partial(_using, material), self.clock) for product in self.search.products
            ]
            if all(found):
                for product, collides in zip(self.search.products, found, strict=True):
                    yield Collision(product.planned.title, collides, named)

    def ways(self) -> Iterator[FamilyChange]:
        """Yield single changes of the plan."""
        wanted, products = self.wanted, self.search.products
        if wanted.at_most is not None:
            self.clock.say("fewest materials that are enough")
            best = self.search.best(replace(wanted, at_most=None), ("materials", "cost"))
            if best is not None:
                yield FamilyChange(
                    "materials", to=count_of(self.search, best.held), contents=best.held.of("cost")
                )
        yield from self._less_kept()
        if wanted.same:
            self.clock.say("without one base for all")
            cheapest = self._cheapest(replace(wanted, same=()), self.search)
            if cheapest is not None:
                yield FamilyChange("base", contents=cheapest.of("cost"))
        yield from self._farther()
        for left_out in products if len(products) > 1 else ():
            self.clock.say(f"without {left_out.planned.title}")
            rest = self.search.among([product for product in products if product is not left_out])
            best = self._fewest(wanted, rest)
            if best is not None:
                yield _left_out(left_out, rest, best, wanted, self.clock)

    def _fewest(self, wanted: Wanted, among: FamilySearch) -> Best | None:
        """Return a family of the fewest materials; None where even that is too many."""
        best = among.best(replace(wanted, at_most=None), ("materials", "cost"))
        fits = best is not None and (wanted.at_most is None or count_of(among, best.held) <= wanted.at_most)
        return best if fits else None

    def _cheapest(self, wanted: Wanted, among: FamilySearch) -> Held | None:
        """Return the family whose contents cost least; None where there is none."""
        if wanted.at_most is not None and self._fewest(wanted, among) is None:
            return None
        best = among.best(wanted, ("cost",))
        return None if best is None else best.held

    def _less_kept(self) -> Iterator[FamilyChange]:
        """Yield the materials to keep that need not be kept: each by itself that is enough, else all."""
        keep, found = self.wanted.keep, False
        library = self.search.products[0].program.library
        for material in keep:
            named = library.materials[material].id
            self.clock.say(f"without keeping {named}")
            rest = tuple(other for other in keep if other != material)
            best = self._cheapest(replace(self.wanted, keep=rest), self.search)
            if best is not None:
                found = True
                yield FamilyChange("keep", material=named, contents=best.of("cost"))
        if len(keep) > 1 and not found:
            best = self._cheapest(replace(self.wanted, keep=()), self.search)
            if best is not None:
                yield FamilyChange("keep", contents=best.of("cost"))

    def _farther(self) -> Iterator[FamilyChange]:
        """Yield how far behind its own best each product has to be allowed, to one step of a thousandth or a few."""
        held_near = [product for product in self.search.products if product.ceiling is not None]
        if not held_near:
            return
        self.clock.say("however far each is behind its own best")
        enough = self._cheapest(self.wanted, self._allowing(math.inf))
        if enough is None:
            return
        high = WITHIN_STEP * math.ceil(self._behind(enough) / WITHIN_STEP - TOLERANCE)
        low = min(product.planned.within or 0.0 for product in held_near)
        for _ in range(HALVINGS):
            middle = round(0.5 * (low + high), 3)
            if not low + 0.5 * WITHIN_STEP < middle < high - 0.5 * WITHIN_STEP:
                break
            self.clock.say(f"each {100 * middle:g} % behind its own best")
            nearer = self._cheapest(self.wanted, self._allowing(middle))
            if nearer is None:
                low = middle
            else:
                enough, high = nearer, middle
        yield FamilyChange("within", within=round(high, 3), contents=enough.of("cost"))

    def _allowing(self, within: float) -> FamilySearch:
        """Return the search with products allowed at least so far behind their own best, as a part of it."""

        def freed(product: Product) -> Product:
            if product.ceiling is None or within <= (product.planned.within or 0.0):
                return product
            best = product.alone.objective
            return replace(product, ceiling=None if within == math.inf else best + within * abs(best))

        return self.search.among([freed(product) for product in self.search.products])

    def _behind(self, held: Held) -> float:
        """Return how far the product that is farthest behind its own best is behind it, as a part of that."""
        parts = [
            (objective_of(program, values) - product.alone.objective) / abs(product.alone.objective)
            for product, program, values in zip(self.search.products, held.programs, held.values, strict=True)
            if product.ceiling is not None and product.alone.objective
        ]
        return max(parts, default=0.0)


def _left_out(product: Product, rest: FamilySearch, best: Best, wanted: Wanted, clock: Clock) -> FamilyChange:
    """Return the way of leaving a product out, with what of it collides on the shelf of the others.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    way, others = FamilyChange("product", product=product.planned.title), count_of(rest, best.held)
    if wanted.at_most is None or wanted.same:
        return way
    shelf = np.zeros(product.program.size, dtype=bool)
    shelf[list(used_by(rest.products, best.held.amounts))] = True
    more = wanted.at_most - others
    collides = _collides(product, partial(_short, shelf, more), clock)
    return replace(way, others=others, more=more, collides=collides) if collides else way


def _collides(product: Product, rows: Callable[[Program], SparseRow], clock: Clock) -> tuple[str, ...]:
    """Return what of a product's brief, library and law cannot hold together with one more row; empty if all can.

    How near the product stays to its own best is held too, where nothing collides without that.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    for ceiling in ([], product.ceiling_row()):
        finder = Finder(product.brief, product.program, clock, partial(_narrowed, rows, ceiling))
        if not finder.demands.possible():
            (collision, *_) = finder.conflicts()
            members = requirements(collision or finder.taking_part(collision))
            titles = [one.title for one in members if one.origin != "balance"]
            near = [f"its aim at most {100 * (product.planned.within or 0):g} % behind its own best"] * bool(
                ceiling
            )
            return (*near, *dict.fromkeys(titles))
    return ()


def _narrowed(row: Callable[[Program], SparseRow], rows: Sequence[SparseRow], program: Program) -> Program:
    """Return a program with further rows, which no wish can move."""
    added = [row(program), *rows]
    balance = np.full(len(added), program.index_of[Key("balance")], dtype=np.intp)
    return replace(
        program,
        form=extended(program.form, [], added),
        row_requirement=np.concatenate([program.row_requirement, balance]),
    )


def _short(shelf: Flags, more: int, program: Program) -> SparseRow:
    """Return the row that lets a product use at most so many materials besides those on a shelf."""
    own = program.own_choice
    choices = np.unique(own[(own >= 0) & ~shelf])
    return SparseRow(choices, np.ones(len(choices)), -np.inf, float(more))


def _using(material: int, program: Program) -> SparseRow:
    """Return the row that makes a product use a material."""
    choices = np.asarray(program.uses[material], dtype=np.intp)
    if not len(choices):
        return SparseRow(np.array([material], dtype=np.intp), np.ones(1), USED, np.inf)
    return SparseRow(choices, np.ones(len(choices)), 1.0, np.inf)
