"""What would let a family be made that cannot be made as its plan asks: single changes, each solved to be sure."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

from optiform.families.curve import count_of
from optiform.families.joint import Wanted
from optiform.families.model import FamilyConflict, FamilyWay
from optiform.families.solving import FamilySearch
from optiform.solver import OutOfTime


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
    def fewest(asked: Wanted, among: FamilySearch = search) -> int | None:
        best = among.best(replace(asked, at_most=None), ("materials",))
        return None if best is None else count_of(among, best.held)

    def enough(number: int | None) -> bool:
        return number is not None and (wanted.at_most is None or number <= wanted.at_most)

    if wanted.at_most is not None:
        search.clock.say("fewest materials that are enough")
        number = fewest(wanted)
        if number is not None:
            yield FamilyWay("materials", to=number)
    if wanted.keep:
        search.clock.say("without the materials to keep")
        if enough(fewest(replace(wanted, keep=()))):
            yield FamilyWay("keep")
    if wanted.same:
        search.clock.say("without one base for all")
        if enough(fewest(replace(wanted, same=()))):
            yield FamilyWay("base")
    if any(product.ceiling is not None for product in search.products):
        search.clock.say("however far each is behind its own best")
        free = search.among([replace(product, ceiling=None) for product in search.products])
        if enough(fewest(wanted, free)):
            yield FamilyWay("within")
    for left_out in search.products if len(search.products) > 1 else ():
        search.clock.say(f"without {left_out.planned.title}")
        rest = search.among([product for product in search.products if product is not left_out])
        if enough(fewest(wanted, rest)):
            yield FamilyWay("product", product=left_out.planned.title)
