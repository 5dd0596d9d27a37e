"""Chooses the few materials of a large library that are ranked first: those with the lowest bounds on the aim."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.program import USED, Program
from optiform.program.reduction.bounding import Bounds, bounds, relaxation
from optiform.program.reduction.part import Part, part_of
from optiform.program.reduction.tighten import tightened
from optiform.search.ionic_strength import confirmed
from optiform.search.ranking import best
from optiform.solver import Clock, Outcome, Session, solve_arrays
from optiform.tolerances import EQUAL, ROUNDING
from optiform.vectors import Flags, Floats, Indices

SPARE, FIRST = 3, 3
"""So many materials of each function are ranked first; where they make formulas different, one more for each three."""

ROUNDS = 4
MIXTURES = 30
"""Steps in which the ratio of the best mixture is found; five are usual."""
LARGER = 2
NOTHING = Outcome("infeasible", np.inf, np.inf)


@dataclass(frozen=True, eq=False)
class Few:
    """The materials with the lowest bounds, and the best formula that they make.

    `tight` is the program with tighter rows; `free` are the materials that have no choice of their
    own, and so are never left out.
    """

    program: Program = field(repr=False)
    tight: Program = field(repr=False)
    limits: Bounds = field(repr=False)
    free: Flags = field(repr=False)
    order: Indices = field(repr=False)
    kept: Flags = field(repr=False)
    part: Part = field(repr=False)
    session: Session = field(repr=False)
    first: Outcome = field(repr=False)


def few_of(program: Program, how_many: int, clock: Clock, *, settled: bool = False) -> Few | None:
    """Find few materials that make a formula; None if only most do, or all.

    Unless the ionic strength is settled already, it is that of the best formula found.
    """
    for place in range(ROUNDS):
        tight = tightened(program)
        mixed = mixture(tight, clock)
        if mixed is None:
            return None
        objective = mixed[2]
        moved = confirmed(program, mixed[0]) if place == 0 and not settled else None
        if moved is not None:
            program = moved
            continue
        limits = bounds(tight, objective, mixed[1])
        free = program.own_choice < 0
        place_of = places(tight, limits, mixed[0], how_many // FIRST)
        many = max(1, int(np.count_nonzero(place_of < how_many // FIRST + SPARE)))
        order = np.argsort(place_of, kind="stable").astype(np.intp)
        while True:
            kept = with_more(free, order[:many])
            part = part_of(tight, kept)
            session = Session(part.form, clock=clock, arrays=True)
            first = best(session, part.form.objective, part.ratio_aim) if part.possible else NOTHING
            if first.status != "infeasible":
                break
            many *= LARGER
            if 2 * many >= program.size:
                return None
        last = settled or first.values is None or place + 1 == ROUNDS
        moved = None if last else confirmed(program, part.full(np.asarray(first.values)))
        if moved is None:
            break
        program = moved
    return Few(program, tight, limits, free, order, kept, part, session, first)


def places(program: Program, limits: Bounds, mixture: Floats, how_many: int) -> Floats:
    """Return the place of each material among those of its function, cheapest bound first, shape (n,).

    What makes two formulas different is wanted most: such materials come first at equal places.
    Of a function that the best mixture does without, hardly any is wanted.
    """
    place = np.full(program.size, np.inf)
    different = program.different
    for word in {material.function for material in program.library.materials}:
        members = np.flatnonzero(program.library.arrays.is_function(word) & (program.own_choice >= 0))
        members = members[np.lexsort((-mixture[members], limits.using[members]))]
        wanted = 0 if np.any(mixture[members] > 0) else SPARE
        place[members] = np.arange(len(members)) + wanted + np.where(different[members], 0, how_many)
    return place


def nearest(few: Few, needed: Flags, how_many: int) -> Flags:
    """Flag so many of the needed materials that make two formulas different, those with the lowest bounds."""
    different = np.flatnonzero(needed & few.program.different)
    lowest = different[np.argsort(few.limits.using[different], kind="stable")][:how_many]
    return with_more(np.zeros(few.program.size, dtype=bool), lowest)


def mixture(program: Program, clock: Clock) -> tuple[Floats, Floats, Floats] | None:
    """Return the best mixture with all choices relaxed, the price of each row, and the objective that it is best by.

    Shapes (columns,), (rows,) and (columns,). The objective is the aim, or where that is a ratio n.x / d.x the linear
    form n.x - t d.x with t the ratio of the best mixture: it is below 0 for whatever has a lower ratio.
    """
    objective, base = program.form.objective, program.ratio_aim
    if base is None:
        found = _mixed(program, objective, clock)
        return None if found is None else (*found, objective)
    ratio = np.inf
    best_mixture: tuple[Floats, Floats, Floats] | None = None
    for _ in range(MIXTURES):
        trial = objective if np.isinf(ratio) else objective - ratio * base
        mixed = _mixed(program, trial, clock)
        if mixed is None or float(base @ mixed[0]) < USED:
            return None
        there = float(objective @ mixed[0]) / float(base @ mixed[0])
        best_mixture = (*mixed, trial)
        if there >= ratio - ROUNDING * max(1.0, abs(ratio)):
            break
        ratio = there
    return best_mixture


def below(program: Program, ceiling: float, clock: Clock) -> Flags | None:
    """Flag the materials that a formula with a lower ratio than a ceiling could use, shape (n,); None if time is over.

    A ratio n.x / d.x is under t just where n.x - t d.x is under 0, which is linear: its bounds prove it.
    """
    if program.ratio_aim is None:
        raise TypeError("the aim is no ratio")
    objective = program.form.objective - ceiling * program.ratio_aim
    mixed = _mixed(program, objective, clock)
    return None if mixed is None else bounds(program, objective, mixed[1]).using <= EQUAL


def worth_searching(
    program: Program, values: Floats, ceiling: float, clock: Clock
) -> tuple[Program, Flags, list[str]] | None:
    """Return a tightened program, the materials of a formula under a ceiling, and the systems of none.

    `values` are of a formula, whose materials are flagged in any case. None where no mixture bounds the others.
    """
    tight = tightened(program)
    mixed = mixture(tight, clock)
    if mixed is None:
        return None
    used = values[: program.size] > 0
    free = program.own_choice < 0
    shut: list[str] = []
    wanted: Flags | None
    if program.ratio_aim is None:
        limits = bounds(tight, mixed[2], mixed[1])
        wanted = limits.using <= ceiling
        shut = [name for name, bound in limits.systems.items() if bound > ceiling]
    else:
        wanted = below(tight, ceiling, clock)
    if wanted is None:
        return None
    return tight, wanted | free | used, shut


def _mixed(program: Program, objective: Floats, clock: Clock) -> tuple[Floats, Floats] | None:
    """Return the best mixture by an objective, in the columns of a program, and the price of each row."""
    relaxed = relaxation(program, objective)
    outcome = solve_arrays(relaxed.form, clock=clock)
    if outcome.values is None or outcome.row_dual is None:
        return None
    values = np.zeros(program.form.columns)
    values[relaxed.columns] = outcome.values
    return values, relaxed.prices(outcome.row_dual, program.form.rows)


def with_more(flags: Flags, places: Indices) -> Flags:
    """Flag some more."""
    more = flags.copy()
    more[places] = True
    return more
