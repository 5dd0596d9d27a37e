"""Tells which wishes of a brief would bring most if they moved by one step."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from operator import itemgetter
from typing import cast

from optiform.answers.describe.limits import Limit, tight
from optiform.answers.describe.sensible_steps import INDEX, step
from optiform.answers.evaluate.judging import Recheck
from optiform.answers.model.changes import Bought, Lever
from optiform.answers.price.marginal_costs import Prices
from optiform.answers.rework.staircase import percents_of
from optiform.brief.models import Brief
from optiform.library.selection import named
from optiform.measures import Measure
from optiform.measures.acidity import Acidity
from optiform.program import Requirement
from optiform.program.program import AcidMove
from optiform.program.rows.moves import MeasureMove
from optiform.search.fixed_choices import FixedChoices, Polished
from optiform.search.ranking import best as best_of
from optiform.search.ranking import within
from optiform.solver import NO_LIMIT, Clock, OutOfTime
from optiform.tolerances import EQUAL

AMOUNT_PART = 0.2
"""An amount is tried a fifth smaller (or larger): 4 instead of 5 %."""

MEASURE_PART = 0.1
PH_STEP = 0.2
FIRST = 0.1
"""How far a bound at nothing is moved."""


MOST = 8


def levers(
    polished: Polished, brief: Brief, recheck: Recheck, worth: float = 0.0, clock: Clock = NO_LIMIT
) -> tuple[Lever, ...]:
    """Return the wishes whose next sensible step brings most, the best first.

    The choices of the result are kept, so a lever brings at least what is told. Every lever holds the brief but for its
    own limit: one that does not is left out, as `recheck` hears, and so is one that brings less than `worth` [aim].
    Once the time is over no further limit is moved.
    """
    prices = Prices(polished, clock)
    limits = [limit for limit in tight(polished) if _movable(limit.requirement)]
    found = sorted(_tried(prices, limits, worth), key=lambda item: (-item[0], item[1].requirement.key))
    told: list[Lever] = []
    with suppress(OutOfTime):
        for _, limit, to in found[:MOST]:
            lever = _lever(prices, limit, to, limits, brief, recheck)
            if lever is not None:
                told.append(lever)
    return tuple(told)


def _tried(prices: Prices, limits: Sequence[Limit], worth: float) -> Iterator[tuple[float, Limit, float]]:
    """Yield what each limit's best step saves, the limit and the step, until the time is over."""
    here = prices.objective
    least = max(worth, EQUAL * max(abs(here), 1.0))
    with suppress(OutOfTime):
        for limit in limits:
            points = [(to, prices.at(limit, to)) for to in _steps(limit.requirement)]
            possible = [(point.objective, to) for to, point in points if point is not None]
            reached, to = min(possible, key=itemgetter(0), default=(here, 0.0))
            if here - reached > least:
                yield here - reached, limit, to


def _lever(
    prices: Prices, limit: Limit, to: float, limits: Sequence[Limit], brief: Brief, recheck: Recheck
) -> Lever | None:
    """Return a lever as it is told: solved again at the ionic strength of its own formula, and judged once more."""
    requirement, program, here = limit.requirement, prices.polished.program, prices.objective
    found = _resolved(prices, (limit, to))
    what = f'a lever ("{requirement.title}" at {to:g}) with a formula'
    if found is None:
        recheck.words.append(f"Left out: {what} that does not hold its pH at its own ionic strength.")
        return None
    if not recheck.holds(what, brief, percents_of(found.program, found.amounts), (requirement.key,)):
        return None
    saving = here - found.objective
    return Lever(
        requirement=requirement,
        bound=requirement.bound or 0.0,
        to=to,
        aim=program.aim_sign * found.objective,
        saving=saving,
        saving_percent=100.0 * saving / abs(here) if here and program.aim.unit != INDEX else None,
        buys=_bought(prices, limit, to, limits) if program.aim.name == "cost" else None,
    )


def _resolved(prices: Prices, *changes: tuple[Limit, float]) -> Polished | None:
    """Return the result with limits at other bounds, its choices kept, at its own ionic strength."""
    polished = prices.polished
    reduced = polished.reduced
    moved = {
        place: (move, prices.awake(limit.requirement, to))
        for limit, to in changes
        for place, move in limit.rows
    }
    acid_rows = tuple(
        acid
        if place is None or place not in moved
        else replace(acid, move=cast("AcidMove", moved[place][0]), bound=moved[place][1])
        for acid, place in ((acid, reduced.row_position.get(acid.row)) for acid in polished.program.acid_rows)
    )
    program = replace(polished.program, acid_rows=acid_rows)
    fixed = FixedChoices(program, polished.values, (), reduced.slack)
    for row, (move, bound) in moved.items():
        fixed.session.set_row(row, reduced.row(move.row(bound, reduced.slack)))
    for limit, to in changes:
        if limit.column is not None:
            low = float(reduced.form.lower[limit.column])
            fixed.session.set_column_bounds(limit.column, low, prices.awake(limit.requirement, to))
    return fixed.settled(0.0, None)


def _movable(requirement: Requirement) -> bool:
    """Tell whether a limit is a number that the brief may move."""
    mine = requirement.origin == "brief" and requirement.movable and not requirement.choice
    return mine and requirement.bound is not None


def _bought(prices: Prices, lever: Limit, to: float, limits: Sequence[Limit]) -> Bought | None:
    """Return what a lever's saving pays for: of the other limits the one that gains most of its own sensible steps.

    Where a pH is held it is solved again at its own ionic strength; what does not hold there is not told.
    """
    found: list[tuple[float, Limit, Bought]] = []
    for limit in limits:
        requirement = limit.requirement
        if limit.requirement.key == lever.requirement.key or requirement.side == "equal":
            continue
        reached = _reached(prices, lever, to, limit)
        if reached is None:
            continue
        measure, value = reached
        digits = 0 if measure.unit == INDEX else measure.digits
        shown = (
            _cut(value, digits, math.floor, 1.0)
            if requirement.side == "at_least"
            else _cut(value, digits, math.ceil, -1.0)
        )
        steps = abs(shown - (requirement.bound or 0.0)) / step(requirement)
        if steps >= 1.0 - EQUAL:
            name = named(measure.name)
            found.append((steps, limit, Bought(name, measure.unit, requirement.bound or 0.0, shown, digits)))
    found.sort(key=itemgetter(0), reverse=True)
    return next((bought for _, limit, bought in found if _affords(prices, lever, to, limit, bought.to)), None)


def _affords(prices: Prices, lever: Limit, to: float, limit: Limit, bound: float) -> bool:
    """Tell whether a moved lever pays for another limit at a tighter bound, at the ionic strength of that formula."""
    if not prices.polished.program.acid_rows:
        return True
    found, here = _resolved(prices, (lever, to), (limit, bound)), prices.objective
    return found is not None and found.objective <= here + EQUAL * max(abs(here), 1.0)


def _reached(prices: Prices, lever: Limit, to: float, limit: Limit) -> tuple[Measure, float] | None:
    """Return the furthest that a measure can be brought at no worse aim, once a lever is moved."""
    reduced, program = prices.polished.reduced, prices.polished.program
    moves = [move for _, move in limit.rows if isinstance(move, MeasureMove)]
    if len(moves) != 1 or isinstance(moves[0].measure, Acidity) or program.ratio_aim is not None:
        return None
    measure, sign = moves[0].measure, -1.0 if limit.requirement.side == "at_least" else 1.0
    with prices.session.trial():
        for row, move in lever.rows:
            prices.session.set_row(row, reduced.row(move.row(to, reduced.slack)))
        if lever.column is not None:
            low = float(reduced.form.lower[lever.column])
            prices.session.set_column_bounds(lever.column, low, to)
        prices.session.add_row(within(reduced.form.objective, None, prices.objective))
        outcome = best_of(prices.session, *reduced.ratio(measure, sign))
    return None if outcome.values is None else (measure, measure.offset + sign * outcome.objective)


def _steps(requirement: Requirement) -> tuple[float, ...]:
    """Return where a bound is tried, in three figures as it is told: one step looser; an equality both ways."""
    bound = requirement.bound or 0.0
    step = _step(requirement, bound)
    down, up = _in_figures(bound - step, 3), _in_figures(bound + step, 3)
    if requirement.side == "at_least":
        return (max(down, 0.0),)
    return (up,) if requirement.side == "at_most" else (max(down, 0.0), up)


def _step(requirement: Requirement, bound: float) -> float:
    measure = requirement.measure or ""
    if measure == "pH":
        return PH_STEP
    if measure.startswith(("material:", "function:", "substance:", "tag:")):
        return AMOUNT_PART * abs(bound)
    return _in_figures(MEASURE_PART * abs(bound), 1) or FIRST


def _in_figures(value: float, figures: int) -> float:
    """Return a number in so many figures: 7.4 in one becomes 7."""
    if value == 0:
        return 0.0
    return float(round(value, figures - 1 - math.floor(math.log10(abs(value)))))


def _cut(value: float, digits: int, cut: Callable[[float], int], side: float) -> float:
    """Return a value in so many decimals, on the side that works; a millionth of the last one is dust."""
    scale = 10.0**digits
    return round(cut(value * scale + side * EQUAL) / scale, digits)
