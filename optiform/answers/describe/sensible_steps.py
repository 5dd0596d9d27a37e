"""How far a reader would move a limit: one sensible step, stated wherever it is used."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optiform.program import Requirement

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
    if requirement.unit == "points":
        return POINTS
    if requirement.unit.startswith("% of") or (requirement.measure or "").startswith("natural origin"):
        return SHARE
    if requirement.unit == "% w/w":
        return 1.0 if bound >= FROM_FIVE else TENTH if bound >= FROM_ONE / 2 else TENTH**2
    return 10.0 ** math.floor(math.log10(bound * TENTH)) if bound > 0 else TENTH
