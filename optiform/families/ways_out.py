"""Finds single changes that make a family possible, each solved to be sure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial

import numpy as np

from optiform.answers.conflict.report import Finder, requirements
from optiform.families.curve import count_of
from optiform.families.joint import Wanted
from optiform.families.model import FamilyConflict, FamilyWay
from optiform.families.products import Product, used_by
from optiform.families.solving import Best, FamilySearch
from optiform.program import Key, Program, SparseRow
from optiform.program.extended import extended
from optiform.solver import Clock, OutOfTime
from optiform.vectors import Flags


def family_conflict(search: FamilySearch, wanted: Wanted) -> FamilyConflict:
    """Return the single changes of a plan that let its family be made; each was solved.

    Once the time is over those found so far are returned, and the conflict says that it is not complete.
    """
    found: list[FamilyWay] = []
    with suppress(OutOfTime):
        found.extend(_ways(search, wanted))
        return FamilyConflict(ways=tuple(found))
    return FamilyConflict(ways=tuple(found), complete=False)


def _ways(search: FamilySearch, wanted: Wanted) -> Iterator[FamilyWay]:
    def enough(asked: Wanted, among: FamilySearch) -> Best | None:
        best = among.best(replace(asked, at_most=None), ("materials", "cost"))
        fits = best is not None and (wanted.at_most is None or count_of(among, best.held) <= wanted.at_most)
        return best if fits else None

    if wanted.at_most is not None:
        search.clock.say("fewest materials that are enough")
        best = search.best(replace(wanted, at_most=None), ("materials", "cost"))
        if best is not None:
            yield FamilyWay("materials", to=count_of(search, best.held), contents=best.held.of("cost"))
    free = search.among([replace(product, ceiling=None) for product in search.products])
    changes = (
        ("keep", "without the materials to keep", bool(wanted.keep), replace(wanted, keep=()), search),
        ("base", "without one base for all", bool(wanted.same), replace(wanted, same=()), search),
        ("within", "however far each is behind its own best",
         any(product.ceiling is not None for product in search.products), wanted, free),
    )  # fmt: skip
    for what, told, asked_for, asked, among in changes:
        if asked_for:
            search.clock.say(told)
            best = enough(asked, among)
            if best is not None:
                yield FamilyWay(what, contents=best.held.of("cost"))
    for left_out in search.products if len(search.products) > 1 else ():
        search.clock.say(f"without {left_out.planned.title}")
        rest = search.among([product for product in search.products if product is not left_out])
        best = enough(wanted, rest)
        if best is not None:
            yield _left_out(left_out, rest, best, wanted, search.clock)


def _left_out(product: Product, rest: FamilySearch, best: Best, wanted: Wanted, clock: Clock) -> FamilyWay:
    """Return the way of leaving a product out, with what of it collides on the shelf of the others.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    way, others = FamilyWay("product", product=product.planned.title), count_of(rest, best.held)
    if wanted.at_most is None or wanted.same:
        return way
    shelf = np.zeros(product.program.size, dtype=bool)
    shelf[list(used_by(rest.products, best.held.amounts))] = True
    more = wanted.at_most - others
    for ceiling in ([], product.ceiling_row()):
        finder = Finder(product.brief, product.program, clock, partial(_short, shelf, more, ceiling))
        if not finder.demands.possible():
            (collision, *_) = finder.conflicts()
            members = requirements(collision or finder.taking_part(collision))
            titles = [one.title for one in members if one.origin != "balance"]
            near = [f"its aim at most {100 * (product.planned.within or 0):g} % behind its own best"] * bool(
                ceiling
            )
            return replace(way, others=others, more=more, collides=(*near, *dict.fromkeys(titles)))
    return way


def _short(shelf: Flags, more: int, rows: Sequence[SparseRow], program: Program) -> Program:
    """Return a program that uses at most so many materials besides those on a shelf."""
    own = program.own_choice
    choices = np.unique(own[(own >= 0) & ~shelf])
    added = [SparseRow(choices, np.ones(len(choices)), -np.inf, float(more)), *rows]
    balance = np.full(len(added), program.index_of[Key("balance")], dtype=np.intp)
    return replace(
        program,
        form=extended(program.form, [], added),
        row_requirement=np.concatenate([program.row_requirement, balance]),
    )
