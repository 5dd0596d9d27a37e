"""Computes the least money for each number of materials on the shelf."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import numpy as np

from optiform.families.joint import Wanted
from optiform.families.model import CurvePoint
from optiform.families.products import used_by
from optiform.families.settling import Held
from optiform.families.solving import Best, FamilySearch
from optiform.solver import OutOfTime


def count_of(search: FamilySearch, held: Held) -> int:
    """Return how many materials a family has on its shelf, water not counted."""
    return len(used_by(search.products, held.amounts))


def point(
    search: FamilySearch, wanted: Wanted, at_most: int, money: str, against: Held, under: float = np.inf
) -> CurvePoint | None:
    """Return the point of at most so many materials; None where no family costs less than `under`.

    Parameters
    ----------
    against : Held
        The family whose shelf is compared.

    Raises
    ------
    OutOfTime
        If the time is over before any family is found.
    """
    best = search.best(replace(wanted, at_most=at_most), (money,), under)
    return None if best is None else point_of(search, best, at_most, money, against)


def point_of(search: FamilySearch, best: Best, at_most: int, money: str, against: Held) -> CurvePoint:
    """Return a family as a point of the curve."""
    names = [material.id for material in search.products[0].program.library.materials]
    mine, theirs = used_by(search.products, best.held.amounts), used_by(search.products, against.amounts)
    here = best.held.of(money)
    return CurvePoint(
        at_most=at_most,
        materials=len(mine),
        money=here,
        bound=min(here, best.bound),
        enters=tuple(names[material] for material in mine if material not in theirs),
        leaves=tuple(names[material] for material in theirs if material not in mine),
        costs=costs_of(best.held),
        proven=best.proven,
    )


def costs_of(held: Held) -> tuple[float, ...]:
    """Return what each product costs at the library's prices [currency/kg]."""
    return tuple(
        float(program.catalogue.find("cost").value(own) or 0.0)
        for program, own in zip(held.programs, held.amounts, strict=True)
    )


def curve(search: FamilySearch, wanted: Wanted, money: str, against: Held) -> tuple[CurvePoint, ...]:
    """Return the whole curve, from as few materials as possible to as many as still save anything.

    Once the time is over the points so far are returned.
    """
    found: list[CurvePoint] = []
    with suppress(OutOfTime):
        search.clock.say("fewest materials")
        few = search.best(replace(wanted, at_most=None), ("materials",))
        search.clock.say("no ceiling on materials")
        most = search.best(replace(wanted, at_most=None), (money,))
        if few is None or most is None:
            return ()
        ends = count_of(search, few.held), count_of(search, most.held)
        for at_most in range(ends[0], ends[1]):
            search.clock.say(f"at most {at_most} of {ends[1]} materials")
            there = point(search, wanted, at_most, money, against)
            if there is not None:
                found.append(there)
        found.append(point_of(search, most, ends[1], money, against))
    return tuple(found)
