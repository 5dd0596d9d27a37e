"""What would bring more if a wish moved: levers outside what the brief lets change."""

from __future__ import annotations

import math
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
from optiform.tolerances import EQUAL

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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


MOST = 8


def levers(polished: Polished, worth: float = 0.0) -> tuple[Lever, ...]:
    """Return the wishes whose next sensible step brings most, the best first.

    Parameters
    ----------
    polished : Polished
        The result; its choices are kept, so a lever brings at least what is told.
    worth : float  [aim]
        Levers that bring less are not named.
    """
    prices = Prices(polished)
    program, here = polished.program, prices.objective
    limits = [limit for limit in tight(polished) if _movable(limit.requirement)]
    found = []
    for limit in limits:
        requirement = limit.requirement
        best: tuple[float, float] | None = None
        for to in _steps(requirement):
            point = prices.at(limit, to)
            if point is not None and (best is None or point.objective < best[1]):
                best = (to, point.objective)
        if best is not None and here - best[1] > max(worth, EQUAL * max(abs(here), 1.0)):
            part = 100.0 * (here - best[1]) / abs(here) if here and program.aim.unit != INDEX else None
            found.append(
                Lever(
                    requirement=requirement,
                    bound=requirement.bound or 0.0,
                    to=best[0],
                    aim=program.aim_sign * best[1],
                    saving=here - best[1],
                    saving_percent=part,
                    buys=_bought(prices, limit, best[0], limits) if program.aim.name == "cost" else None,
                )
            )
    found.sort(key=lambda lever: (-lever.saving, lever.requirement.key))
    return tuple(found[:MOST])


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
        if steps >= 1.0 - EQUAL and (found is None or steps > found[0]):
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
    return round(cut(value * scale + side * EQUAL) / scale, digits)
