"""States a formula in whole steps of a balance as an integer program, its choices fixed."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from optiform.answers.describe.limits import room_for_pH
from optiform.answers.weigh.dependent_columns import DependentColumns
from optiform.answers.weigh.grid import Closeness, Grid, Items
from optiform.measures.acidity import Acidity
from optiform.program import Form, Key, Program, Reduced, reduce
from optiform.program.rows.preferences import plain_objective
from optiform.search.incumbent import in_time
from optiform.solver import NO_LIMIT, Clock, Session
from optiform.tolerances import GRID_CONTENT, ROUNDING, TOLERANCE
from optiform.vectors import Floats, among

DINKELBACH = 40
ALL_STEPS = 20_000
NEARBY = 100.0
EXACT_STEPS = 2_000


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
    beside: DependentColumns


def problem_of(
    program: Program,
    values: Floats,
    grid: Grid,
    items: Items,
    closeness: Closeness = "none",
    waived: Collection[Key] = (),
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
    matrix, beside = _over_items(reduced, items), DependentColumns.of(reduced, items)
    owner = program.row_requirement[reduced.rows]
    keys = [program.requirements[k].key for k in owner]
    kept = np.array(
        [key not in waived and key.section not in ("balance", "prefer") for key in keys], dtype=bool
    )
    kept &= np.abs(np.hstack([matrix, beside.matrix])).max(axis=1, initial=0.0) > 0
    slack = _slack(program, reduced.rows, values)
    lower, upper = form.row_lower - slack, form.row_upper + slack
    drawn = np.array([(cuts or {}).get(int(row), 0.0) for row in reduced.rows])
    lower, upper = lower + drawn, upper - drawn
    equal = np.logical_or(*equalities(program, reduced))
    room = _closest(program, reduced, matrix, items, grid, closeness)
    lower, upper = lower - room, upper + room
    bounds = _bounds(program, values, grid, items)
    if bounds is None:
        return None
    objective = items.spread(wished(program, values)[:size])
    base = None if program.ratio_aim is None else items.spread(program.ratio_aim[:size])
    exact = values[items.materials] / items.strength
    start = np.clip(np.round(exact / grid.step), *bounds)  # near the exact amounts, for small numbers
    weights = None
    if near or not np.any(objective):
        weights = 1.0 / exact
    return Problem(
        matrix=matrix[kept],
        lower=lower[kept],
        upper=upper[kept],
        owner=owner[kept],
        equal=equal[kept],
        least=bounds[0],
        most=bounds[1],
        start=np.asarray(start, dtype=np.int64),
        objective=objective,
        base=base,
        near=weights,
        beside=replace(beside, matrix=beside.matrix[kept]),
    )


def wished(program: Program, values: Floats) -> Floats:
    """Return the aim with the slope of each penalty that the exact formula pays."""
    objective = plain_objective(program)
    for wish in program.preferences:
        if wish.penalty(values) <= 0 or len(wish.counted):
            continue
        base = wish.measure.scale(values[: program.size])
        row = wish.measure.row(wish.side, wish.value(values) or 0.0)
        objective[: program.size] -= wish.sign * wish.worth / base * row.coefficients
    return objective


def equalities(program: Program, reduced: Reduced) -> tuple[np.ndarray, np.ndarray]:
    """Flag the rows that leave a single value: both rows of an equality, and those of a single pH, shape (rows,) each.

    A single pH is left where what is used works only up to it and from it on. No whole steps ever
    meet it to the last digit, so it is held within half a step of what moves it most.
    """
    low, high = room_for_pH(program, reduced.fixed)
    single = high - TOLERANCE <= low
    met = [
        acid.row
        for acid in program.acid_rows
        if single and isinstance(acid.move.measure, Acidity) and acid.bound in (low, high)
    ]
    owner = program.row_requirement[reduced.rows]
    stated = np.array([program.requirements[k].side == "equal" for k in owner], dtype=bool)
    return stated, among(reduced.rows, met)


def _closest(
    program: Program, reduced: Reduced, matrix: Floats, items: Items, grid: Grid, closeness: Closeness
) -> Floats:
    """Return by how much each row may be off because a single value cannot be met on the grid, shape (rows,)."""
    stated, single = equalities(program, reduced)
    room = np.where(stated, _half_step(matrix, items, grid, closeness), 0.0)
    return np.where(single, _half_step(matrix, items, grid, "most"), room)


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
    some = np.where(effect > ROUNDING * grid.step, effect, np.inf).min(axis=1, initial=np.inf)
    return np.where(np.isfinite(some), some, 0.0)


def allowances(
    program: Program, values: Floats, grid: Grid, items: Items, closeness: Closeness
) -> dict[Key, float]:
    """Return by how much each equality may be off, in row units, by the requirement's key."""
    reduced = reduce(program, values)
    room = _closest(program, reduced, _over_items(reduced, items), items, grid, closeness)
    found: dict[Key, float] = {}
    for row in np.flatnonzero(room):
        key = program.requirements[program.row_requirement[reduced.rows[row]]].key
        found[key] = max(found.get(key, 0.0), float(room[row]) * (1.0 + ROUNDING))
    return found


def _bounds(
    program: Program, values: Floats, grid: Grid, items: Items
) -> tuple[np.ndarray, np.ndarray] | None:
    """Return the fewest and most steps of each item, or None where there are none between them."""
    lower = program.form.lower[items.materials] / items.strength / grid.step
    upper = program.form.upper[items.materials] / items.strength / grid.step
    least = np.maximum(np.ceil(lower - ROUNDING), grid.least)
    most = np.minimum(np.floor(upper + ROUNDING), grid.total)
    return None if np.any(least > most) else (least, most)


def solve(problem: Problem, grid: Grid, clock: Clock = NO_LIMIT) -> np.ndarray | None:
    """Return the best whole steps, or None where there are none.

    Raises
    ------
    OutOfTime
        If the time is over before any are found.

    Notes
    -----
    Up to `EXACT_STEPS` steps a batch the result is the best there is; on a finer grid it is proven to
    be within `CONTENT` of the best: closing the last hundred-thousandth would take minutes. All steps
    are looked at where there are at most `ALL_STEPS` of them; beyond, the search is proven within
    `NEARBY` steps of the best continuous amounts, and goes on to all steps only where
    nothing is found there: what lies further off costs more, by whole steps, than rounding does.
    """
    session = Session(form_of(problem, grid), clock=clock)
    if grid.total > EXACT_STEPS:
        session.accept_within(
            GRID_CONTENT * max(1.0, abs(grid.step * float(problem.objective @ problem.start)))
        )
    if problem.near is not None or problem.base is None:
        return _whole(session, problem, grid)
    return _ratio(session, problem, grid)


def _whole(session: Session, problem: Problem, grid: Grid) -> np.ndarray | None:
    """Return the best whole steps for the session's objective, looking near the continuous optimum first."""
    count = len(problem.start)
    with session.trial():
        session.relax()
        relaxed = in_time(session.solve())
    if relaxed.values is None:
        return None
    if grid.total > ALL_STEPS:
        with session.trial():
            for place, value in enumerate(np.round(relaxed.values[:count])):
                low = max(value - NEARBY, float(problem.least[place] - problem.start[place]))
                high = min(value + NEARBY, float(problem.most[place] - problem.start[place]))
                session.set_column_bounds(place, min(low, high), max(low, high))
            outcome = in_time(session.solve())
        if outcome.values is not None:
            return problem.start + np.round(outcome.values[:count]).astype(np.int64)
    outcome = in_time(session.solve())
    return (
        None if outcome.values is None else problem.start + np.round(outcome.values[:count]).astype(np.int64)
    )


def _ratio(session: Session, problem: Problem, grid: Grid) -> np.ndarray | None:
    """Minimise a ratio over whole steps (Dinkelbach, Management Science 13 (1967) 492)."""
    assert problem.base is not None
    best: np.ndarray | None = None
    ratio = float(problem.objective @ problem.start) / max(float(problem.base @ problem.start), ROUNDING)
    for _ in range(DINKELBACH):
        session.set_objective(grid.step * (problem.objective - ratio * problem.base))
        steps = _whole(session, problem, grid)
        if steps is None or float(problem.base @ steps) <= 0:
            return None
        found = float(problem.objective @ steps) / float(problem.base @ steps)
        if best is not None and found >= ratio - ROUNDING * max(1.0, abs(ratio)):
            return best
        best, ratio = steps, found
    return best


def form_of(problem: Problem, grid: Grid) -> Form:
    """Return the integer program in steps away from the start, each row in steps as well."""
    count = len(problem.start)
    here = problem.matrix @ (grid.step * problem.start)
    lower = (problem.lower - here) / grid.step
    upper = (problem.upper - here) / grid.step
    beside = problem.beside
    whole = np.hstack([problem.matrix, beside.matrix])
    ends = zip(whole, lower, upper, strict=True)
    rows = [(np.flatnonzero(row), row[row != 0], low, high) for row, low, high in ends]
    short = float(grid.total - int(problem.start.sum()))
    rows.append((np.arange(count), np.ones(count), short, short))
    norms = beside.in_steps(grid, problem.start, count)
    one = np.ones(1 if norms else 0)
    lowest, highest = (np.append(ends / grid.step, one) for ends in (beside.lower, beside.upper))
    width = count + len(lowest)
    if norms:
        rows.append((np.array([width - 1]), np.ones(1), 1.0, 1.0))
    objective = np.concatenate([grid.step * problem.objective, np.zeros(len(lowest))])
    if problem.near is not None:
        rows += _distances(problem, grid, width)
        objective = np.concatenate([np.zeros(width), problem.near])
        width += count
    starts = np.concatenate([[0], np.cumsum([len(row[0]) for row in rows])]).astype(np.intp)
    apart = width - count - len(lowest)
    furthest = np.full(apart, float(grid.total))
    return Form(
        lower=np.concatenate([problem.least - problem.start, lowest, np.zeros(apart)]).astype(float),
        upper=np.concatenate([problem.most - problem.start, highest, furthest]).astype(float),
        integer=np.arange(width) < count,
        objective=objective,
        starts=starts,
        indices=np.concatenate([row[0] for row in rows]).astype(np.intp),
        values=np.concatenate([row[1] for row in rows]).astype(float),
        row_lower=np.array([row[2] for row in rows]),
        row_upper=np.array([row[3] for row in rows]),
        norms=norms,
    )


def _distances(problem: Problem, grid: Grid, first: int) -> list[tuple[np.ndarray, Floats, float, float]]:
    """Return the rows that make each column from `first` on the distance of an item from its exact amount, in steps."""
    assert problem.near is not None
    rows = []
    for place in range(len(problem.near)):
        if problem.near[place] > 0:
            exact = 1.0 / problem.near[place] / grid.step - float(problem.start[place])
            columns = np.array([place, first + place])
            rows.append((columns, np.array([-1.0, 1.0]), -exact, np.inf))
            rows.append((columns, np.array([1.0, 1.0]), exact, np.inf))
        else:
            rows.append((np.array([first + place]), np.ones(1), 0.0, np.inf))
    return rows
