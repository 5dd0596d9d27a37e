"""What each further new material buys: the best formula with at most 0, 1, 2, 3 ... of them."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from optiform.answers.changes import Rung
from optiform.answers.first import first_of
from optiform.answers.staircase import percents_of
from optiform.program.baseline_rows import counted

if TYPE_CHECKING:
    from optiform.answers.polish import Polished
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats

HIGHEST = 4


def ladder(
    brief: Brief, before: Floats, aim: float | None, *, deadline: float | None = None
) -> tuple[Rung, ...]:
    """Return the best formula for each number of new materials, until more of them bring nothing.

    Parameters
    ----------
    brief : Brief
        With a baseline; its own `at_most_new` is replaced.
    before : ndarray, shape (n,)  [% w/w]
        The baseline.
    aim : float, optional
        What the baseline's aim is.
    deadline : float, optional
        Moment on `time.monotonic` after which no further rung is begun.
    """
    rungs: list[Rung] = []
    for most in range(HIGHEST + 1):
        if deadline is not None and time.monotonic() > deadline:
            break
        found = first_of(_with(brief, most), deadline)
        rungs.append(_rung(found, most, before, aim))
        if found is not None and len(rungs[-1].new) < most:
            break
    return tuple(rungs)


def _with(brief: Brief, most: int) -> Brief:
    if brief.baseline is None:
        raise ValueError("a ladder needs a baseline")
    return brief.model_copy(update={"baseline": brief.baseline.model_copy(update={"at_most_new": most})})


def _rung(found: Polished | None, most: int, before: Floats, aim: float | None) -> Rung:
    if found is None:
        return Rung(most, None, None)
    program, after = found.program, found.amounts
    ids = program.library.arrays.materials
    new = tuple(ids[i] for i in counted(program.library, before, present=False) if after[i] > 0)
    dropped = tuple(ids[i] for i in counted(program.library, before, present=True) if after[i] <= 0)
    reached = program.aim.value(after)
    saving = None if aim is None or reached is None else program.aim_sign * (aim - reached)
    return Rung(most, reached, saving, new, dropped, percents_of(program, after))
