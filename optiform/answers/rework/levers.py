"""What would bring more if a wish moved: levers outside what the brief lets change."""

from __future__ import annotations

import math
from contextlib import suppress
from operator import itemgetter
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.describe.limits import tight
from optiform.answers.describe.sensible_steps import step
from optiform.answers.describe.worth import INDEX
from optiform.answers.model.changes import Bought, Lever
from optiform.answers.price.marginal_costs import Prices
from optiform.measures.acidity import Acidity
from optiform.program.requirement import named
from optiform.program.rows.moves import MeasureMove
from optiform.search.ranking import best as best_of
from optiform.search.ranking import within
from optiform.solver import NO_LIMIT, Clock, OutOfTime

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from optiform.answers.describe.limits import Limit
    from optiform.measures import Measure
    from optiform.program import Requirement
    from optiform.search.fixed_choices import Polished

AMOUNT_PART = 0.2
"""An amount is tried a fifth smaller (or larger): 4 instead of 5 %."""

MEASURE_PART = 0.1
PH_STEP = 0.2
FIRST = 0.1
"""How far a bound at nothing is moved."""

NOTHING = 1e-6
"""A lever that brings less than this part of the aim brings nothing."""

MOST = 8


def levers(polished: Polished, worth: float = 0.0, clock: Clock = NO_LIMIT) -> tuple[Lever, ...]:
    """Return the wishes whose next sensible step brings most, the best first.

    Parameters
    ----------
    polished : Polished
        The result; its choices are kept, so a lever brings at least what is told.
    worth : float  [aim]
        Levers that bring less are not named.
    clock : Clock
        Once its time is over no further limit is moved.
    """
    found = sorted(
        _tried(Prices(polished, clock), worth), key=lambda lever: (-lever.saving, lever.requirement.key)
    )
    return tuple(found[:MOST])


def _tried(prices: Prices, worth: float) -> Iterator[Lever]:
    """Yield each lever that brings more than it must, until the time is over."""
    least = max(worth, NOTHING * max(abs(prices.objective), 1.0))
    limits = [limit for limit in tight(prices.polished) if _movable(limit.requirement)]
    with suppress(OutOfTime):
        for limit in limits:
            lever = _lever(prices, limit, limits, least)
            if lever is not None:
                yield lever


def _lever(prices: Prices, limit: Limit, limits: Sequence[Limit], least: float) -> Lever | None:
    """Return what the next sensible step of a limit brings; None where it is no more than the least."""
    program, here = prices.polished.program, prices.objective
    requirement = limit.requirement
    points = [(to, prices.at(limit, to)) for to in _steps(requirement)]
    possible = [(point.objective, to) for to, point in points if point is not None]
    reached, to = min(possible, key=itemgetter(0), default=(here, requirement.bound or 0.0))
    if here - reached <= least:
        return None
    part = 100.0 * (here - reached) / abs(here) if here and program.aim.unit != INDEX else None
    return Lever(
        requirement=requirement,
        bound=requirement.bound or 0.0,
        to=to,
        aim=program.aim_sign * reached,
        saving=here - reached,
        saving_percent=part,
        buys=_bought(prices, limit, to, limits) if program.aim.name == "cost" else None,
    )


def _movable(requirement: Requirement) -> bool:
    """Tell whether a limit is a number that the brief may move."""
    mine = requirement.origin == "brief" and requirement.movable and not requirement.choice
    return mine and requirement.bound is not None


def _bought(prices: Prices, lever: Limit, to: float, limits: Sequence[Limit]) -> Bought | None:
    """Return what a lever's saving pays for: of the other limits the one that gains most of its own sensible steps."""
    found: tuple[float, Bought] | None = None
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
        if steps >= 1.0 - NOTHING and (found is None or steps > found[0]):
            name = named(measure.name)
            found = (steps, Bought(name, measure.unit, requirement.bound or 0.0, shown, digits))
    return None if found is None else found[1]


def _reached(prices: Prices, lever: Limit, to: float, limit: Limit) -> tuple[Measure, float] | None:
    """Return the furthest that a measure can be brought at no worse aim, once a lever is moved."""
    reduced, program = prices.polished.reduced, prices.polished.program
    moves = [move for _, move in limit.rows if isinstance(move, MeasureMove)]
    if len(moves) != 1 or isinstance(moves[0].measure, Acidity) or program.ratio_aim is not None:
        return None
    measure, sign = moves[0].measure, -1.0 if limit.requirement.side == "at_least" else 1.0
    amounts = reduced.free < program.size
    top, base = np.zeros(len(reduced.free)), None
    top[amounts] = sign * measure.numerator[reduced.free[amounts]]
    if measure.denominator is not None:
        base = np.zeros(len(reduced.free))
        base[amounts] = measure.denominator[reduced.free[amounts]]
    with prices.session.trial():
        for row, move in lever.rows:
            prices.session.set_row(row, reduced.row(move.row(to, reduced.slack)))
        if lever.column is not None:
            low = float(reduced.form.lower[lever.column])
            prices.session.set_column_bounds(lever.column, low, to)
        prices.session.add_row(within(reduced.form.objective, None, prices.objective))
        outcome = best_of(prices.session, top, base)
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
    return round(cut(value * scale + side * NOTHING) / scale, digits)
