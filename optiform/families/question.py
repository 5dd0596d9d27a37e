"""Finds the best family of a plan and explains it, or says why there is none."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.certainty.every_lot import wanted_share
from optiform.answers.conflict.report import conflict
from optiform.answers.evaluate.judging import Recheck, pairs_of
from optiform.families.bills import bills, purchase_of
from optiform.families.curve import count_of, curve, point, point_of
from optiform.families.explain import Keeping, members, priced_limits, shelf_of
from optiform.families.joint import Market, Wanted
from optiform.families.model import Family, FamilyConflict
from optiform.families.plan import FamilyPlan, goals_of, money_of, of_functions
from optiform.families.products import HALF_A_MATERIAL, NoFormula, product_of
from optiform.families.shared_base import base_of
from optiform.families.solving import Best, FamilySearch, best_of
from optiform.families.ways_out import family_conflict
from optiform.faults import InternalError
from optiform.sheets.cautions import cautions_of
from optiform.solver import Clock, OutOfTime
from optiform.tolerances import MONEY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.families.model import CurvePoint, Member, ShelfMaterial
    from optiform.families.plan import Planned

HURRIED = "The time ran out before everything was worked out: what is not known is left out."
NOTHING_YET = "The time ran out before any family was found: allow more seconds."
NO_BASE = "No product uses what [base] names, and nothing else is the same in all: there is no base to make."
STRENGTHS = (
    "The search takes the pH of each product at one ionic strength, its own best formula's or its first formula's in a "
    "family; then every formula was solved again at its own, and judged once more from its amounts."
)

BEST_ALONE = "It is the one whose best formula is best by itself; another set may suit the shelf better."


def family(plan: FamilyPlan, clock: Clock, *, whole_curve: bool = False) -> Family:
    """Find the best family of a plan, proven and explained; or say why there is none.

    Parameters
    ----------
    plan : FamilyPlan
    clock : Clock
        Once its time is over the best so far is returned, labelled unproven.
    whole_curve : bool
        Also find the least money for every number of materials.
    """
    empty = Family(
        plan.title, "stopped", False, plan.minimise, plan.library.name, plan.library.currency, plan
    )
    try:
        search, wanted = search_of(plan, clock)
        clock.say("all products together")
        best = _best(search, wanted, goals_of(plan))
        if best is None:
            return replace(empty, status="conflict", proven=True, conflict=family_conflict(search, wanted))
    except NoFormula as found:
        why = conflict(found.planned.brief, found.program, clock=clock)
        told = FamilyConflict(product=found.planned.title, answer=why)
        return replace(empty, status="conflict", proven=True, conflict=told)
    except OutOfTime:
        return replace(empty, notes=(NOTHING_YET,))
    return _Explanation(plan, search, wanted, best).told(empty, whole_curve=whole_curve)


def _best(search: FamilySearch, wanted: Wanted, goals: Sequence[str]) -> Best | None:
    """Return the best family; if the time is over before that is known, none worse than of the choices each has alone.

    Raises
    ------
    OutOfTime
        If none was found, and these do not make a family as the plan asks.
    """
    best: Best | None = None
    with suppress(OutOfTime):
        best = search.best(wanted, goals)
        if best is None or best.proven:
            return best
    apart = search.apart(wanted, goals)
    if apart is None and best is None:
        raise OutOfTime
    return best_of(*(one for one in (best, apart) if one is not None), goal=goals[0])


def search_of(plan: FamilyPlan, clock: Clock) -> tuple[FamilySearch, Wanted]:
    """Return the search over a plan's products, each designed alone, and the demands on their shelf.

    Raises
    ------
    NoFormula
        If the brief of a product cannot be met.
    OutOfTime
        If the time is over before each product has a formula.
    """
    index = plan.library.arrays.material_index
    products = []
    for place, planned in enumerate(plan.products):
        clock.say(f"product {place + 1} of {len(plan.products)} alone")
        products.append(product_of(planned, plan.spare_percent, clock))
    wanted = Wanted(
        at_most=plan.at_most,
        keep=tuple(index[name] for name in plan.keep),
        same=tuple(index[name] for name in of_functions(plan.library, plan.same)),
        without=tuple(index[name] for name in plan.without),
    )
    market = Market(plan.library, plan.offers, plan.suppliers, plan.stock)
    return FamilySearch(products, market, plan.gap, clock), wanted


class _Explanation:
    """Collects everything that explains a family: purchase, bills, shelf, limits, base and notes."""

    def __init__(self, plan: FamilyPlan, search: FamilySearch, wanted: Wanted, best: Best) -> None:
        self.plan, self.search, self.wanted, self.best = plan, search, wanted, best
        self.hurried = False
        self.fewest = False

    def told(self, empty: Family, *, whole_curve: bool) -> Family:
        """Return the family with its explanation, its formulas judged again from their amounts."""
        plan, search, held, clock = self.plan, self.search, self.best.held, self.search.clock
        told = members(search.products, held)
        _judge([product.planned for product in search.products], told)
        purchase = purchase_of(plan, [member.formula for member in told])
        apart, together, here = bills(plan, told, purchase)
        shelf = self._kept(shelf_of(search.products, held))
        clock.say("pricing the limits of each product")
        limits = priced_limits(search.products, held, money_of(plan), clock)
        clock.say("one material more, one less")
        more, less = (self._neighbour(by) for by in (1, -1))
        points = curve(search, self.wanted, money_of(plan), held) if whole_curve else ()
        base = base_of(plan, search, self.wanted, goals_of(plan), held, told)
        reached = held.of(plan.minimise)
        gap = max(0.0, reached - self.best.bound)
        return replace(
            empty,
            status="solved" if self.best.proven else "stopped",
            proven=self.best.proven,
            gap=gap if gap > MONEY * max(1.0, abs(reached)) else 0.0,
            cash=purchase.cash,
            consumed=purchase.consumed,
            money=held.of(money_of(plan)),
            materials=count_of(search, held),
            products=told,
            shelf=shelf,
            purchase=purchase,
            apart=apart,
            together=together,
            here=here,
            one_more=more,
            one_less=less,
            fewest=self.fewest,
            curve=points,
            limits=limits,
            base=base,
            notes=(*self._notes(told), *((NO_BASE,) if plan.same and base is None else ())),
            cautions=cautions_of((stand.material for stand in shelf), plan.library),
        )

    def _kept(self, shelf: Sequence[ShelfMaterial]) -> tuple[ShelfMaterial, ...]:
        """Return the shelf with what each product would cost more without each material."""
        index, library = self.plan.library.arrays.material_index, self.plan.library
        stands = np.zeros(len(library.materials), dtype=bool)
        stands[[index[library.water.id], *(index[stand.material] for stand in shelf)]] = True
        told, keeping = [], Keeping(self.search.products, self.best.held, stands, self.search.clock)
        for stand in shelf:
            without = stand.without
            if index[stand.material] not in self.wanted.same:
                try:
                    without = keeping.of(stand)
                except OutOfTime:
                    self.hurried = True
            told.append(replace(stand, without=without))
        return tuple(told)

    def _neighbour(self, by: int) -> CurvePoint | None:
        """Return the family with one material more or less; None where it cannot be made, or cannot help."""
        held, plan = self.best.held, self.plan
        count, money = count_of(self.search, held), money_of(plan)
        closed = plan.at_most is not None and count >= plan.at_most
        if by > 0 and not closed and plan.minimise != "materials":
            return None
        if by < 0 and plan.minimise == "materials":
            self.fewest = self.best.proven
            return None
        with suppress(OutOfTime):
            if by < 0 and money == "cash" and not self._possible(count + by):
                return None
            under = held.of(money) if by > 0 else np.inf
            found = point(self.search, self.wanted, count + by, money, held, under)
            if by > 0:
                return found or point_of(
                    self.search, replace(self.best, bound=under), count + by, money, held
                )
            self.fewest = self.fewest or found is None
            return found
        self.hurried = True
        return None

    def _possible(self, at_most: int) -> bool:
        """Tell whether so few materials make a family: a far shorter search than for the best purchase."""
        enough = at_most + HALF_A_MATERIAL
        found = self.search.best(replace(self.wanted, at_most=None), ("materials",), enough)
        self.fewest = found is None
        return found is not None

    def _notes(self, told: Sequence[Member]) -> tuple[str, ...]:
        notes = [HURRIED] if self.hurried else []
        if any(product.program.acid_rows for product in self.search.products):
            notes.append(STRENGTHS)
        trust = self.plan.library.trust.get("price")
        if trust is not None:
            notes.append(f"Prices: {trust}.")
        for member, planned in zip(told, self.plan.products, strict=True):
            notes += _lots(member, planned)
        for product in self.search.products:
            based = product.planned.brief.known.told
            notes += [f"{product.planned.title}: {based} {BEST_ALONE}"] if based else []
        for member, program in zip(told, self.best.held.programs, strict=True):
            notes += [f"{member.title}: {note}" for note in program.notes]
        return tuple(dict.fromkeys(notes))


def _lots(member: Member, planned: Planned) -> list[str]:
    """Return in how many lots every limit of a product holds, where its brief asks for a certainty."""
    lots, wanted = member.formula.lots, wanted_share(planned.brief)
    if planned.brief.certainty is None or lots is None:
        return []
    fewer = ", fewer than asked for" if wanted is not None and lots.share < wanted else ""
    return [
        f"{member.title}: every limit holds in {lots.all_held:,} of {lots.drawn:,} lots drawn at random{fewer}."
    ]


def _judge(products: Sequence[Planned], told: Sequence[Member]) -> None:
    """Judge every formula once more from its amounts, by its own brief and at its own ionic strength.

    Raises
    ------
    InternalError
        If one does not hold.
    """
    recheck = Recheck()
    for planned, member in zip(products, told, strict=True):
        recheck.holds(f"the formula of {planned.title}", planned.brief, pairs_of(member.formula.lines))
    if recheck.words:
        raise InternalError(" ".join(recheck.words))
