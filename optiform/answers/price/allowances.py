"""Tells how far each amount may go within an allowance, and which materials a formula can do without."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from optiform.answers.model.answer import Formula, Line, Role
from optiform.measures.learned import LOGARITHM
from optiform.program import Program
from optiform.search.fixed_choices import Polished
from optiform.search.incumbent import optimum
from optiform.search.ranking import within
from optiform.solver import NO_LIMIT, Clock, Session
from optiform.tolerances import EQUAL, ROUNDING
from optiform.vectors import Floats

ALLOWANCE = 1.0
"""Allowance of the ranges, % of the best aim."""

USED = 5e-4


def allowance_of(objective: float, unit: str, percent: float = ALLOWANCE) -> float:
    """Return an allowance in the aim's unit: added to the best, never multiplied with it, so its sign is right."""
    if unit.startswith(LOGARITHM):
        return math.log10(1.0 + percent / 100.0)
    return abs(objective) * percent / 100.0


def with_ranges(
    formula: Formula, polished: Polished, percent: float = ALLOWANCE, clock: Clock = NO_LIMIT
) -> Formula:
    """Fill in, for each material, the lowest and highest amount within an allowance of the formula's aim.

    Once the time is over the formula comes back without any.

    Notes
    -----
    All other amounts may follow, the materials and the preservative system stay. The ranges do not
    hold all at once: using up one of them uses up the allowance.
    """
    program, reduced = polished.program, polished.reduced
    allowance = allowance_of(polished.objective, program.aim.unit, percent)
    session = Session(reduced.form, clock=clock, arrays=True)
    ceiling = polished.objective + allowance + ROUNDING
    session.add_row(within(reduced.form.objective, reduced.ratio_aim, ceiling))
    place = {int(column): here for here, column in enumerate(reduced.free)}
    index = program.library.arrays.material_index
    lines = tuple(_ranged(session, line, place.get(index[line.material])) for line in formula.lines)
    return formula if clock.over() else replace(formula, lines=lines, allowance=allowance)


def _ranged(session: Session, line: Line, column: int | None) -> Line:
    """Return a line with the extremes of its amount, no narrower than the amount itself."""
    if column is None:
        return line
    ends = []
    for sign in (1.0, -1.0):
        objective = np.zeros(session.form.columns)
        objective[column] = sign
        with session.trial():
            session.set_objective(objective)
            outcome = session.solve()
        ends.append(line.percent if outcome.values is None else sign * outcome.objective)
    low, high = (line.percent if abs(end - line.percent) < EQUAL else end for end in ends)
    return replace(line, low=0.0 if low < ROUNDING else min(low, line.percent), high=max(high, line.percent))


def with_roles(formula: Formula, polished: Polished, clock: Clock = NO_LIMIT) -> Formula:
    """Say of each material whether any formula within the allowance does without it.

    Everything else may change, the structure too. The formula has its ranges already. What is not known
    once the time is over, is left out.
    """
    program = polished.program
    session = Session(program.form, clock=clock)
    allowance = formula.allowance
    if allowance is None:
        allowance = allowance_of(polished.objective, program.aim.unit)
    index = program.library.arrays.material_index
    water = program.library.water.id
    lines = []
    for line in formula.lines:
        if line.material == water:
            lines.append(replace(line, role="essential"))
            continue
        with session.trial():
            session.set_column_bounds(index[line.material], 0.0, 0.0)
            outcome = optimum(session, program, program.form.objective, program.ratio_aim)
        if outcome.status == "stopped":
            lines.append(line)
            continue
        lines.append(_with_role(line, program, polished, outcome.values, outcome.objective, allowance))
    return replace(formula, lines=tuple(lines))


def _with_role(
    line: Line,
    program: Program,
    polished: Polished,
    values: Floats | None,
    objective: float,
    allowance: float,
) -> Line:
    """Return a line with its role, judged by the best formula without it."""
    if values is None:
        return replace(line, role="essential")
    materials = program.library.materials
    new = [
        materials[place]
        for place in np.flatnonzero((values[: program.size] >= USED) & (polished.amounts < USED))
    ]
    own = program.library.material[line.material]
    instead = tuple(material.id for material in new if set(own.functions) & set(material.functions))
    dear = objective > polished.objective + allowance
    role: Role = "essential" if dear else "interchangeable" if instead else "optional"
    return replace(line, role=role, instead=instead, without=program.aim_sign * objective)
