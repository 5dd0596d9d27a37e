"""Tells what each further new material brings: the best formula with at most 0, 1, 2, 3 ... of them."""

from __future__ import annotations

import math

from optiform.answers.describe.sensible_steps import aim_with_penalties
from optiform.answers.evaluate.judging import Recheck
from optiform.answers.model.changes import Rung
from optiform.answers.rework.staircase import percents_of
from optiform.brief.models import Brief
from optiform.program.rows.baseline_rows import counted
from optiform.search.first_formula import first_of
from optiform.search.fixed_choices import Polished
from optiform.solver import NO_LIMIT, Clock, OutOfTime
from optiform.vectors import Floats

HIGHEST = 4


def ladder(
    brief: Brief,
    before: Floats,
    aim: float | None,
    recheck: Recheck,
    *,
    worth: float = 0.0,
    clock: Clock = NO_LIMIT,
) -> tuple[Rung, ...]:
    """Return the best formula for each number of new materials that is worth it, until more bring nothing.

    The brief's own `at_most_new` is replaced. `before` is its baseline, shape (n,) [% w/w], and `aim` the aim of that.
    A rung whose formula does not hold is left out, as `recheck` hears, and so is one that brings less than `worth`
    above the last one told. Once the time is over there is no further rung.
    """
    rungs: list[Rung] = []
    for most in range(HIGHEST + 1):
        allowed = _with(brief, most)
        try:
            found = first_of(allowed, clock)
        except OutOfTime:
            break
        rung = _rung(found, most, before, aim)
        what = f"the best formula with at most {most} new materials, a formula"
        holds = not rung.percents or recheck.holds(what, allowed, rung.percents)
        if holds and (not rungs or _gain(rungs[-1], rung) >= worth):
            rungs.append(rung)
        if found is not None and len(rung.new) < most:
            break
    return tuple(rungs)


def _gain(before: Rung, rung: Rung) -> float:
    """Return what a rung brings above another; as much as can be where that one holds nothing."""
    if rung.saving is None or before.saving is None:
        return math.inf
    return max(rung.saving - before.saving, 0.0)


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
    reached = aim_with_penalties(program, found.values)
    saving = None if aim is None or reached is None else program.aim_sign * (aim - reached)
    return Rung(most, reached, saving, new, dropped, percents_of(program, after))
