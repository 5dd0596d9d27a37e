"""A formula as this balance can weigh it for this batch."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal

import numpy as np

from optiform.answers.model.weighing import NearlyEqual, Stock, Weighable, WeighedLine
from optiform.answers.weigh.drops import drops_beside
from optiform.answers.weigh.grid import Grid, grid_of
from optiform.answers.weigh.on_grid import OnGrid, on_grid
from optiform.brief.models import Weighing
from optiform.program import Key, Program, Requirement
from optiform.program.requirement import PH_WINDOWS
from optiform.solver import NO_LIMIT, Clock
from optiform.vectors import Floats


def weigh(
    program: Program,
    values: Floats,
    weighing: Weighing,
    *,
    stocks: Mapping[str, float] | None = None,
    waived: Collection[Key] = (),
    near: bool = False,
    clock: Clock = NO_LIMIT,
) -> Weighable | None:
    """Return the best amounts that the balance can weigh, or None where none hold everything.

    Parameters and errors are those of `on_grid`.
    """
    grid = grid_of(weighing.batch_g, weighing.balance_g, weighing.error_percent)
    if grid is None:
        return None
    found = on_grid(program, values, grid, stocks=stocks, waived=waived, near=near, clock=clock)
    return None if found is None else _told(program, values, grid, found, weighing.drops_per_mL)


def _told(program: Program, values: Floats, grid: Grid, found: OnGrid, per_mL: float) -> Weighable:
    """Turn steps into lines of grams, with what the rounding costs."""
    library, amounts = program.library, found.amounts
    cost = program.catalogue.find("cost")
    exact = values[: program.size]
    lines, stocks = [], []
    for index, strength, steps in zip(found.items.materials, found.items.strength, found.steps, strict=True):
        material, grams = library.materials[index], grid.grams(int(steps))
        solution = None if strength == 1.0 else round(100.0 * float(strength), 9)
        percent = 100.0 * int(steps) / grid.total
        drops = drops_beside(library, material, grams, grid.batch_g, per_mL) if solution is None else None
        lines.append(WeighedLine(material.id, material.name, grams, percent, solution, drops))
        if solution is not None:
            stocks.append(_stock(material.id, material.name, solution, grams, grid))
    aim, before = program.aim.value(amounts), program.aim.value(exact)
    rounding = 0.0 if aim is None or before is None else program.aim_sign * (aim - before)
    return Weighable(
        batch_g=grid.batch_g,
        balance_g=grid.balance_g,
        error_percent=grid.error_percent,
        least_g=grid.balance_g / 2.0 / (grid.error_percent / 100.0),
        aim=float("nan") if aim is None else aim,
        cost=cost.value(amounts) or 0.0,
        currency=library.currency,
        rounding=rounding,
        cost_of_rounding=(cost.value(amounts) or 0.0) - (cost.value(exact) or 0.0),
        lines=tuple(lines),
        percents=tuple((library.materials[i].id, float(amounts[i])) for i in np.flatnonzero(amounts > 0)),
        stocks=tuple(stocks),
        drops_per_mL=per_mL,
        off=tuple(_nearly(found, requirement) for requirement, _ in found.off),
    )


def _nearly(found: OnGrid, requirement: Requirement) -> NearlyEqual:
    catalogue = found.program.catalogue
    value = None
    measure = requirement.measure or ("pH" if requirement.key.section in (*PH_WINDOWS, "pH-end") else "")
    if catalogue.known(measure):
        value = catalogue.find(measure).value(found.amounts)
    return NearlyEqual(requirement, requirement.bound, value)


def _stock(material: str, name: str, percent: float, use_g: float, grid: Grid) -> Stock:
    """Return how to make a stock solution: enough for the batch, the material weighed within the error."""
    step = Decimal(str(grid.balance_g))
    share = Decimal(str(percent)) / 100
    wanted = max(Decimal(str(use_g)) * share, step * grid.least)
    steps = (wanted / step).to_integral_value("ROUND_CEILING")
    while True:
        solid = steps * step
        water = solid / share - solid
        if water / step == (water / step).to_integral_value():
            return Stock(material, name, percent, float(solid), float(water), use_g)
        steps += 1
