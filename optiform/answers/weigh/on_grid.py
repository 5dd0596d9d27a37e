"""Finds amounts in whole steps of a balance that hold every requirement at their own ionic strength."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.describe.limits import FULL
from optiform.answers.weigh.grid import CLOSENESS, Closeness, Grid, Items, items_of
from optiform.answers.weigh.grid_program import allowances, equalities, problem_of, solve
from optiform.measures.acidity import charge_curves
from optiform.program import Key, Program, Requirement, at_strength, breaks, reduce
from optiform.program.rows.preferences import filled
from optiform.solver import NO_LIMIT, Clock
from optiform.tolerances import LAST_DIGITS, TOLERANCE
from optiform.vectors import Floats

ROUNDS = 8


@dataclass(frozen=True, eq=False)
class OnGrid:
    """Amounts on the grid that hold everything.

    Attributes
    ----------
    program : Program
        At the ionic strength of these amounts.
    values : ndarray, shape (columns,)
    steps : ndarray of int, shape (k,)
    off : tuple of (Requirement, float)
        Equalities that the grid cannot meet, with how far each may be off in row units.
    """

    program: Program = field(repr=False)
    values: Floats = field(repr=False)
    steps: np.ndarray
    items: Items
    off: tuple[tuple[Requirement, float], ...] = ()

    @property
    def amounts(self) -> Floats:
        """Return the % w/w of each material, shape (n,)."""
        return self.values[: self.program.size]


def on_grid(
    program: Program,
    values: Floats,
    grid: Grid,
    *,
    stocks: Mapping[str, float] | None = None,
    waived: Collection[Key] = (),
    near: bool = False,
    clock: Clock = NO_LIMIT,
) -> OnGrid | None:
    """Return the best amounts on a grid that hold everything a program asks, its choices kept; None where none do.

    Parameters
    ----------
    values : ndarray, shape (columns,)
        The exact formula; its materials are what is weighed.
    stocks : mapping of str to float, optional
        Materials weighed as a solution in water, and the strength in %.
    waived : collection of Key
        Keys of requirements that the exact formula does not hold either.
    near : bool
        Stay as near to the exact amounts as possible, in parts of each, instead of serving the aim. A use
        range that the exact amounts are outside of is let pass; nothing is raised to a weight that can be
        weighed, which would be another formula.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.

    Notes
    -----
    Found by an integer program solved to proof, not by rounding. An equality that no grid meets is
    held within half a step's effect: of the item that moves it least, or else of the one that moves
    it most.
    """
    items = items_of(program, values, stocks or {})
    if near:
        if np.any(np.round(values[items.materials] / items.strength / grid.step) < grid.least):
            return None
        program = _as_typed(program, values)
    for closeness in CLOSENESS:
        found = _verified(program, values, grid, items, closeness, waived, near, clock)
        if found is not None:
            return found
        stated, _ = equalities(program, reduce(program, values))
        if not stated.any():
            return None
    return None


def _as_typed(program: Program, values: Floats) -> Program:
    """Return the program whose use ranges give way where a formula is outside of them already."""
    form, size = program.form, program.size
    lower, upper = form.lower.copy(), form.upper.copy()
    amounts = values[:size]
    lower[:size] = np.where(amounts < lower[:size] - TOLERANCE, 0.0, lower[:size])
    upper[:size] = np.where(amounts > upper[:size] + TOLERANCE, FULL, upper[:size])
    return replace(program, form=replace(form, lower=lower, upper=upper))


def _verified(
    program: Program,
    values: Floats,
    grid: Grid,
    items: Items,
    closeness: Closeness,
    waived: Collection[Key],
    near: bool,
    clock: Clock,
) -> OnGrid | None:
    """Solve at the ionic strength of the result, and recompute every row from our own arrays."""
    cuts: dict[int, float] = {}
    for turn in range(ROUNDS):
        problem = problem_of(program, values, grid, items, closeness, waived, near, cuts)
        steps = None if problem is None else solve(problem, grid, clock)
        if problem is None or steps is None:
            return None
        whole = values.copy()
        whole[: program.size] = items.amounts(100.0 * steps / grid.total, program.size)
        whole = filled(program, whole)
        settled = charge_curves(program.library).settle(whole[: program.size]) if program.acid_rows else None
        before = program.catalogue.conditions.ionic_strength
        if settled is not None and abs(settled.ionic_strength - before) > LAST_DIGITS:
            program = at_strength(program, settled.ionic_strength)
            moved = True
        else:
            moved = False
        allowed = allowances(program, values, grid, items, closeness)
        missed = [item for item in breaks(program, whole) if item.requirement.key not in waived]
        broken = [item for item in missed if item.by > allowed.get(item.requirement.key, 0.0)]
        if not broken:
            off = tuple((item.requirement, allowed[item.requirement.key]) for item in missed)
            return OnGrid(program, whole, steps, items, off)
        if not moved or turn >= ROUNDS // 2:
            for item in broken:
                index = program.index_of[item.requirement.key]
                for row in program.rows_of[index]:
                    cuts[int(row)] = cuts.get(int(row), 0.0) + 2.0 * item.by
    return None
