"""Amounts in whole steps of a balance: one integer program over a formula whose choices are fixed."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

import numpy as np

from optiform.measures.acidity import charge_curves
from optiform.program import TOLERANCE, Form, at_strength, breaks, reduce
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from optiform.library.arrays import Floats
    from optiform.program import Program, Reduced, Requirement

Closeness = Literal["none", "least", "most"]
CLOSENESS: tuple[Closeness, ...] = ("none", "least", "most")
ROUNDS = 8
DINKELBACH = 40
SAME_STRENGTH = 1e-12
EDGE = 1e-9


@dataclass(frozen=True)
class Grid:
    """The steps in which a batch is weighed.

    Attributes
    ----------
    batch_g, balance_g : float  [g]
    total : int
        Steps in the whole batch.
    least : int
        Fewest steps that are weighed within the error allowed.
    """

    batch_g: float
    balance_g: float
    error_percent: float
    total: int
    least: int

    @property
    def step(self) -> float:
        """Return one step [% w/w]."""
        return 100.0 / self.total

    def grams(self, steps: int) -> float:
        """Return the grams of a number of steps, as the balance shows them."""
        return float(Decimal(str(self.balance_g)) * steps)


def grid_of(batch_g: float, balance_g: float, error_percent: float) -> Grid | None:
    """Return the grid of a batch on a balance, or None where the batch is no whole number of its steps.

    Notes
    -----
    An amount m weighed to half a step d / 2 is off by (d / 2) / m at most, so the least amount is
    (d / 2) / error (arithmetic of the reading; what else a balance adds is not in it).
    """
    total = Decimal(str(batch_g)) / Decimal(str(balance_g))
    if total != total.to_integral_value() or total < 1:
        return None
    least = Decimal(50) / Decimal(str(error_percent))
    return Grid(
        batch_g, balance_g, error_percent, int(total), max(1, int(least.to_integral_value("ROUND_CEILING")))
    )


@dataclass(frozen=True, eq=False)
class Items:
    """What is weighed: materials as they are, or as stock solutions in water.

    Attributes
    ----------
    materials : ndarray of int, shape (k,)
        Position of the material of each item.
    strength : ndarray, shape (k,)  [g/g]
        1 for the material itself, less for its solution.
    water : int
        Position of the water.
    """

    materials: np.ndarray
    strength: Floats
    water: int

    def spread(self, per_material: Floats) -> Floats:
        """Return a property of 1 % w/w of each item from that of each material, shape (..., k)."""
        own = per_material[..., self.materials] * self.strength
        solvent = per_material[..., self.water]
        return np.asarray(own + np.expand_dims(solvent, -1) * (1.0 - self.strength), dtype=float)

    def amounts(self, percent: Floats, size: int) -> Floats:
        """Return % w/w of each material from % w/w of each item, shape (size,)."""
        found = np.bincount(self.materials, weights=percent * self.strength, minlength=size).astype(float)
        found[self.water] += float(percent @ (1.0 - self.strength))
        return found


def items_of(program: Program, values: Floats, stocks: Mapping[str, float]) -> Items:
    """Return what is weighed for a formula; `stocks` names solutions and their strength in %."""
    amounts = values[: program.size]
    index = program.library.arrays.material_index
    used = np.flatnonzero(amounts > EDGE)
    names = [program.library.materials[i].id for i in used]
    strength = np.array([stocks.get(name, 100.0) / 100.0 for name in names])
    return Items(used, strength, index[program.library.water.id])


@dataclass(frozen=True, eq=False)
class OnGrid:
    """Amounts on the grid that hold everything.

    Attributes
    ----------
    program : Program
        At the ionic strength of these amounts.
    values : ndarray, shape (columns,)
    steps : ndarray of int, shape (k,)
    items : Items
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


@dataclass(frozen=True, eq=False)
class Problem:
    """Rows and bounds of the integer program, in % w/w of the items; `owner` tells whose a row is."""

    matrix: Floats
    lower: Floats
    upper: Floats
    owner: np.ndarray
    equal: np.ndarray
    least: np.ndarray
    most: np.ndarray
    start: np.ndarray
    objective: Floats
    base: Floats | None
    near: Floats | None


def on_grid(
    program: Program,
    values: Floats,
    grid: Grid,
    *,
    stocks: Mapping[str, float] | None = None,
    waived: Collection[str] = (),
    near: bool = False,
) -> OnGrid | None:
    """Return the best amounts on a grid that hold everything a program asks, its choices kept.

    Parameters
    ----------
    program : Program
    values : ndarray, shape (columns,)
        The exact formula; its materials are what is weighed.
    grid : Grid
    stocks : mapping of str to float, optional
        Materials weighed as a solution in water, and the strength in %.
    waived : collection of str
        Keys of requirements that the exact formula does not hold either.
    near : bool
        Stay as near to the exact amounts as possible, in parts of each, instead of serving the aim.

    Returns
    -------
    OnGrid or None
        None where no amounts on this grid hold everything.

    Notes
    -----
    Found by an integer program solved to proof, not by rounding. An equality that no grid meets is
    held within half a step's effect: of the item that moves it least, or else of the one that moves
    it most.
    """
    items = items_of(program, values, stocks or {})
    for closeness in CLOSENESS:
        found = _verified(program, values, grid, items, closeness, waived, near)
        if found is not None:
            return found
        if not any(requirement.side == "equal" for requirement in program.requirements):
            return None
    return None


def _verified(
    program: Program,
    values: Floats,
    grid: Grid,
    items: Items,
    closeness: Closeness,
    waived: Collection[str],
    near: bool,
) -> OnGrid | None:
    """Solve at the ionic strength of the result, and recompute every row from our own arrays."""
    cuts: dict[int, float] = {}
    for turn in range(ROUNDS):
        problem = problem_of(program, values, grid, items, closeness, waived, near, cuts)
        steps = None if problem is None else solve(problem, grid)
        if problem is None or steps is None:
            return None
        whole = values.copy()
        whole[: program.size] = items.amounts(100.0 * steps / grid.total, program.size)
        settled = charge_curves(program.library).settle(whole[: program.size]) if program.acid_rows else None
        before = program.catalogue.conditions.ionic_strength
        if settled is not None and abs(settled.ionic_strength - before) > SAME_STRENGTH:
            program = at_strength(program, settled.ionic_strength)
            moved = True
        else:
            moved = False
        allowed = _allowances(program, values, grid, items, closeness)
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


def problem_of(
    program: Program,
    values: Floats,
    grid: Grid,
    items: Items,
    closeness: Closeness = "none",
    waived: Collection[str] = (),
    near: bool = False,
    cuts: Mapping[int, float] | None = None,
) -> Problem | None:
    """State a formula on a grid; None where an amount has no step inside its bounds.

    Parameters
    ----------
    cuts : mapping of int to float, optional
        By how much rows of the program are drawn in, in row units, to make up for a solver's tolerance.
    """
    reduced = reduce(program, values)
    form, size = reduced.form, program.size
    matrix = _over_items(reduced, items)
    owner = program.row_requirement[reduced.rows]
    keys = [program.requirements[k].key for k in owner]
    kept = np.array([key not in waived and key != "balance" for key in keys], dtype=bool)
    kept &= np.abs(matrix).max(axis=1, initial=0.0) > 0
    slack = _slack(program, reduced.rows, values)
    lower, upper = form.row_lower - slack, form.row_upper + slack
    drawn = np.array([(cuts or {}).get(int(row), 0.0) for row in reduced.rows])
    lower, upper = lower + drawn, upper - drawn
    equal = np.array([program.requirements[k].side == "equal" for k in owner], dtype=bool)
    room = np.where(equal, _half_step(matrix, items, grid, closeness), 0.0)
    lower, upper = lower - room, upper + room
    bounds = _bounds(program, values, grid, items)
    if bounds is None:
        return None
    objective = items.spread(program.form.objective[:size])
    base = None if program.ratio_aim is None else items.spread(program.ratio_aim[:size])
    exact = values[items.materials] / items.strength
    weights = None
    if near or not np.any(objective):
        weights = np.where(items.materials == items.water, 0.0, 1.0 / exact)
    return Problem(
        matrix=matrix[kept],
        lower=lower[kept],
        upper=upper[kept],
        owner=owner[kept],
        equal=equal[kept],
        least=bounds[0],
        most=bounds[1],
        start=_start(exact, items, grid, bounds),
        objective=objective,
        base=base,
        near=weights,
    )


def _over_items(reduced: Reduced, items: Items) -> Floats:
    """Return the rows of a reduced program over the items, shape (rows, k)."""
    form = reduced.form
    columns = reduced.free[form.indices]
    place = np.full(reduced.program.form.columns, -1, dtype=np.intp)
    place[items.materials] = np.arange(len(items.materials))
    here = place[columns]
    own = np.zeros((form.rows, len(items.materials)))
    own[form.owner[here >= 0], here[here >= 0]] = form.values[here >= 0]
    wet = columns == items.water
    solvent = np.zeros(form.rows)
    solvent[form.owner[wet]] = form.values[wet]
    return own * items.strength + solvent[:, None] * (1.0 - items.strength)


def _start(exact: Floats, items: Items, grid: Grid, bounds: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """Return steps near the exact amounts: an origin that keeps the solver's numbers small."""
    start = np.clip(np.round(exact / grid.step), bounds[0], bounds[1])
    return np.asarray(start, dtype=np.int64)


def _slack(program: Program, rows: np.ndarray, values: Floats) -> Floats:
    """Return a fifth of the tolerance of each bound, in row units: the verification allows for more."""
    slack = np.zeros(program.form.rows)
    for requirement, moves in program.moves.items():
        bound = program.requirements[requirement].bound
        for row, move in moves if bound is not None else ():
            slack[row] = 0.2 * TOLERANCE * abs(move.scale(values[: program.size], bound or 0.0))
    return np.asarray(slack[rows], dtype=float)


def _half_step(matrix: Floats, items: Items, grid: Grid, closeness: Closeness) -> Floats:
    """Return what half a step of an item, exchanged for water, does to each row."""
    if closeness == "none":
        return np.zeros(len(matrix))
    water = np.flatnonzero(items.materials == items.water)
    against = matrix[:, water[:1]] if len(water) else matrix.min(axis=1, keepdims=True)
    effect = 0.5 * grid.step * np.abs(matrix - against)
    if closeness == "most":
        return np.asarray(effect.max(axis=1, initial=0.0), dtype=float)
    some = np.where(effect > EDGE * grid.step, effect, np.inf).min(axis=1, initial=np.inf)
    return np.where(np.isfinite(some), some, 0.0)


def _allowances(
    program: Program, values: Floats, grid: Grid, items: Items, closeness: Closeness
) -> dict[str, float]:
    """Return by how much each equality may be off, in row units, by the requirement's key."""
    if closeness == "none":
        return {}
    reduced = reduce(program, values)
    half = _half_step(_over_items(reduced, items), items, grid, closeness)
    found: dict[str, float] = {}
    for row, room in zip(reduced.rows, half, strict=True):
        requirement = program.requirements[program.row_requirement[row]]
        if requirement.side == "equal":
            found[requirement.key] = max(found.get(requirement.key, 0.0), float(room) * (1.0 + 1e-9))
    return found


def _bounds(
    program: Program, values: Floats, grid: Grid, items: Items
) -> tuple[np.ndarray, np.ndarray] | None:
    """Return the fewest and most steps of each item, or None where there are none between them."""
    lower = program.form.lower[items.materials] / items.strength / grid.step
    upper = program.form.upper[items.materials] / items.strength / grid.step
    least = np.maximum(np.ceil(lower - EDGE), grid.least)
    most = np.minimum(np.floor(upper + EDGE), grid.total)
    return None if np.any(least > most) else (least, most)


def solve(problem: Problem, grid: Grid) -> np.ndarray | None:
    """Return the best whole steps, or None where there are none: proven either way."""
    form = form_of(problem, grid)
    session = Session(form)
    count = len(problem.start)
    if problem.near is not None or problem.base is None:
        outcome = session.solve()
        return (
            None
            if outcome.values is None
            else problem.start + np.round(outcome.values[:count]).astype(np.int64)
        )
    return _ratio(session, problem, grid)


def _ratio(session: Session, problem: Problem, grid: Grid) -> np.ndarray | None:
    """Minimise a ratio over whole steps (Dinkelbach, Management Science 13 (1967) 492)."""
    assert problem.base is not None
    best: np.ndarray | None = None
    ratio = float(problem.objective @ problem.start) / max(float(problem.base @ problem.start), EDGE)
    for _ in range(DINKELBACH):
        session.set_objective(grid.step * (problem.objective - ratio * problem.base))
        outcome = session.solve()
        if outcome.values is None:
            return None
        steps = problem.start + np.round(outcome.values).astype(np.int64)
        bottom = float(problem.base @ steps)
        if bottom <= 0:
            return None
        found = float(problem.objective @ steps) / bottom
        if best is not None and found >= ratio - EDGE * max(1.0, abs(ratio)):
            return best
        best, ratio = steps, found
    return best


def form_of(problem: Problem, grid: Grid) -> Form:
    """Return the integer program in steps away from the start, each row in steps as well."""
    count = len(problem.start)
    here = problem.matrix @ (grid.step * problem.start)
    lower = (problem.lower - here) / grid.step
    upper = (problem.upper - here) / grid.step
    rows = [_sparse(row, low, high) for row, low, high in zip(problem.matrix, lower, upper, strict=True)]
    short = float(grid.total - int(problem.start.sum()))
    rows.append((np.arange(count), np.ones(count), short, short))
    objective = grid.step * problem.objective
    width = count
    if problem.near is not None:
        width, objective = 2 * count, np.concatenate([np.zeros(count), problem.near])
        rows += _distances(problem, grid, count)
    starts = np.concatenate([[0], np.cumsum([len(row[0]) for row in rows])]).astype(np.intp)
    extra = width - count
    return Form(
        lower=np.concatenate([problem.least - problem.start, np.zeros(extra)]).astype(float),
        upper=np.concatenate([problem.most - problem.start, np.full(extra, float(grid.total))]).astype(float),
        integer=np.arange(width) < count,
        objective=objective,
        starts=starts,
        indices=np.concatenate([row[0] for row in rows]).astype(np.intp),
        values=np.concatenate([row[1] for row in rows]).astype(float),
        row_lower=np.array([row[2] for row in rows]),
        row_upper=np.array([row[3] for row in rows]),
    )


def _sparse(row: Floats, low: float, high: float) -> tuple[np.ndarray, Floats, float, float]:
    present = np.flatnonzero(row)
    return present, row[present], low, high


def _distances(problem: Problem, grid: Grid, count: int) -> list[tuple[np.ndarray, Floats, float, float]]:
    """Return the rows that make a column the distance of each item from its exact amount, in steps."""
    assert problem.near is not None
    rows = []
    for place in range(count):
        if problem.near[place] > 0:
            exact = 1.0 / problem.near[place] / grid.step - float(problem.start[place])
            columns = np.array([place, count + place])
            rows.append((columns, np.array([-1.0, 1.0]), -exact, np.inf))
            rows.append((columns, np.array([1.0, 1.0]), exact, np.inf))
        else:
            rows.append((np.array([count + place]), np.ones(1), 0.0, np.inf))
    return rows
