"""Tells by how much a reader would move a limit, and from which gain on a new formula is worth it."""

from __future__ import annotations

import math

from optiform.brief.models import Brief
from optiform.measures.learned import LOGARITHM
from optiform.program import Program, Requirement
from optiform.program.rows.preferences import penalty
from optiform.vectors import Floats

INDEX = "points"
"""The unit of an ordinal index: it has no decimals, and no part of it means anything."""

POINTS = 5.0
"""Differences of the mildness index under five points are no difference."""

SHARE = 5.0
PH = 0.1
TENTH = 0.1
FROM_ONE, FROM_FIVE = 1.0, 5.0


def step(requirement: Requirement) -> float:
    """Return one sensible step of a limit, in its own unit.

    Five points of mildness or another index, five percent of a share, 0.1 of a pH, one material of a
    count; for amounts in % w/w 1 from 5 on, 0.1 from 0.5 on, else 0.01; for anything else the power
    of ten at or below a tenth of the bound.
    """
    bound = abs(requirement.bound or 0.0)
    if requirement.measure == "pH":
        return PH
    if requirement.unit == "materials":
        return 1.0
    if requirement.unit == INDEX:
        return POINTS
    if requirement.unit.startswith("% of") or (requirement.measure or "").startswith("natural origin"):
        return SHARE
    if requirement.unit == "% w/w":
        return 1.0 if bound >= FROM_FIVE else TENTH if bound >= FROM_ONE / 2 else TENTH**2
    return 10.0 ** math.floor(math.log10(bound * TENTH)) if bound > 0 else TENTH


def worth_of(brief: Brief, unit: str, value: float | None) -> float:
    """Return the least gain worth telling as one, in the unit of a measure.

    Parameters
    ----------
    brief : Brief
        Its `worth` is a part of the value; 0 makes any gain worth while.
    unit : str
        Of an ordinal index five points are the least that means anything.
    value : float, optional
        What the measure is today.
    """
    if brief.worth == 0 or value is None:
        return 0.0
    if unit.startswith(LOGARITHM):
        return math.log10(1.0 + brief.worth)
    return POINTS if unit == INDEX else brief.worth * abs(value)


def aim_with_penalties(program: Program, values: Floats) -> float | None:
    """Return the aim at column values with what falling short of soft wishes costs; None where it is not defined."""
    aim = program.aim.value(values[: program.size])
    return None if aim is None else aim + program.aim_sign * penalty(program, values)
