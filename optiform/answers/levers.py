"""What would bring more if a wish moved: levers outside what the brief lets change."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.answers.changes import Lever
from optiform.answers.limits import tight
from optiform.answers.prices import Prices

if TYPE_CHECKING:
    from optiform.answers.polish import Polished
    from optiform.program import Requirement

AMOUNT_PART = 0.2
"""An amount is tried a fifth smaller (or larger): 4 instead of 5 %."""

MEASURE_PART = 0.1
PH_STEP = 0.2
FIRST = 0.1
"""How far a bound at nothing is moved."""

WORTH = 0.005
"""Levers that bring less than this part of the aim are not worth naming."""

MOST = 8


def levers(polished: Polished) -> tuple[Lever, ...]:
    """Return the wishes whose next sensible step brings most, the best first.

    Parameters
    ----------
    polished : Polished
        The result; its choices are kept, so a lever brings at least what is told.
    """
    prices = Prices(polished)
    program, here = polished.program, prices.objective
    found = []
    for limit in tight(polished):
        requirement = limit.requirement
        if (
            requirement.origin != "brief"
            or not requirement.movable
            or requirement.choice
            or requirement.bound is None
        ):
            continue
        best: tuple[float, float] | None = None
        for to in _steps(requirement):
            point = prices.at(limit, to)
            if point is not None and (best is None or point.objective < best[1]):
                best = (to, point.objective)
        if best is not None and here - best[1] > WORTH * max(abs(here), 1e-9):
            aim = program.aim_sign * best[1]
            part = 100.0 * (here - best[1]) / abs(here) if here else None
            found.append(Lever(requirement, requirement.bound, best[0], aim, here - best[1], part))
    found.sort(key=lambda lever: (-lever.saving, lever.requirement.key))
    return tuple(found[:MOST])


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
