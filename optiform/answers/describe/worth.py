"""What a gain must come to before it is worth a new formula, whose every test would be opened again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.describe.sensible_steps import POINTS
from optiform.program.rows.preferences import penalty

if TYPE_CHECKING:
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.program import Program

INDEX = "points"
"""The unit of an ordinal index: it has no decimals, and no part of it means anything."""


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
    return POINTS if unit == INDEX else brief.worth * abs(value)


def aim_with_penalties(program: Program, values: Floats) -> float | None:
    """Return the aim at column values with what falling short of soft wishes costs; None where it is not defined."""
    aim = program.aim.value(values[: program.size])
    return None if aim is None else aim + program.aim_sign * penalty(program, values)
