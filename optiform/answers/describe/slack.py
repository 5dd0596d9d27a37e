"""Tells where a formula stands inside each limit with a number, and the room left on each side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from optiform.answers.describe.limits import dose_limit
from optiform.answers.model.answer import Conflict, Slack
from optiform.bounds import number
from optiform.program import Program, Requirement
from optiform.program.program import Move
from optiform.program.requirement import Key
from optiform.program.rows.baseline_rows import DroppedMove
from optiform.program.rows.levels import SIDES
from optiform.program.rows.moves import CountMove, MarginMove, MeasureMove, UseMove, WhenMove
from optiform.tolerances import TOLERANCE
from optiform.vectors import Floats

ORIGINS = ("brief", "law", "library")
COUNTED = 2
"""Decimals of an amount whose limit is no measure."""


def slack_of(program: Program, values: Floats) -> tuple[Slack, ...]:
    """Return a row for every limit that the formula could run into: the brief's, the law's, the library's.

    Both ends of one window become one row. A limit that says nothing about this formula has no
    row: a ratio to something absent, the use range of a material that is not there.

    Parameters
    ----------
    program : Program
        At the ionic strength at which the formula is judged.
    values : ndarray, shape (columns,)
    """
    windows: dict[tuple[Key, float, str], list[tuple[Requirement, int]]] = {}
    used = np.flatnonzero(values[: program.size] > 0).tolist()
    for index in program.moves.concerning(used):
        requirement, moves = program.requirements[index], program.moves[index]
        if requirement.bound is None or requirement.origin not in ORIGINS:
            continue
        nearest = _nearest(requirement, _values(program, requirement, moves, values))
        if nearest is not None:
            value, which, digits = nearest
            windows.setdefault((requirement.key.window, value, which), []).append((requirement, digits))
    rows = [
        slack(tuple(requirement for requirement, _ in ends), value, which, ends[0][1])
        for (_, value, which), ends in windows.items()
    ]
    rows += _system(program, values)
    return tuple(sorted(rows, key=lambda row: ORIGINS.index(row.origin)))


def slack(
    requirements: tuple[Requirement, ...], value: float, which: str = "", digits: int = COUNTED
) -> Slack:
    """Return where a value stands under one requirement, or between the two ends of a window."""
    low = [r.bound for r in requirements if r.side in ("at_least", "equal")]
    high = [r.bound for r in requirements if r.side in ("at_most", "equal")]
    ends = (low[0] if low else None, high[0] if high else None)
    first = requirements[0]
    return _row(label_of(first), requirements, value, ends, first.unit, which=which, digits=digits)


def reachable_of(conflict: Conflict) -> tuple[Slack, ...]:
    """Return how far each colliding wish can be met while the others hold, as rows of slack."""
    return tuple(
        slack((requirement,), value)
        for requirement, value in conflict.best_reachable
        if requirement.bound is not None and requirement.side is not None and np.isfinite(value)
    )


def _nearest(
    requirement: Requirement, measured: Iterable[tuple[float, str, int]]
) -> tuple[float, str, int] | None:
    """Return the value that has the least room, or None where the limit says nothing."""
    return min(measured, key=lambda item: _room(requirement, item[0]), default=None)


def _room(requirement: Requirement, value: float) -> float:
    bound = requirement.bound or 0.0
    if requirement.side == "equal":
        return -abs(value - bound)
    return value - bound if requirement.side == "at_least" else bound - value


def _values(
    program: Program, requirement: Requirement, moves: tuple[tuple[int, Move], ...], values: Floats
) -> Iterator[tuple[float, str, int]]:
    """Yield what each row of a limit bounds: its value, its name where there are several, its decimals."""
    amounts = values[: program.size]
    asked = requirement.origin == "brief"
    several = len({move.measure.name for _, move in moves if isinstance(move, MeasureMove)}) > 1
    for _, move in moves:
        if isinstance(move, WhenMove) and not move.taken(values):
            continue
        if isinstance(move, (MeasureMove, WhenMove)) and move.measure.retaken is not None:
            value = program.catalogue.find(move.measure.name).value(amounts)
            if value is not None:
                yield value, "", move.measure.digits
        elif isinstance(move, (MeasureMove, WhenMove)):
            plays = asked or bool(move.measure.numerator[amounts > 0].any())
            value = move.measure.value(amounts) if plays else None
            if value is not None:
                yield value, move.measure.name if several else "", move.measure.digits
        elif isinstance(move, MarginMove):
            value = move.value(values)
            if value is not None:
                yield value, "", move.measure.digits
        elif isinstance(move, CountMove):
            yield float(move.values @ values[move.indices]), "", 0
        elif isinstance(move, DroppedMove):
            yield float(move.all - move.times @ values[move.indices]), "", 0
        elif isinstance(move, UseMove) and amounts[move.column] > 0:
            yield float(amounts[move.column]), "", COUNTED


def _system(program: Program, values: Floats) -> Iterator[Slack]:
    """Yield the windows of the preservative system that was chosen: its members, and the pH where it works."""
    library, catalogue = program.library, program.catalogue
    for system in library.systems:
        if system.name not in program.systems or values[program.systems[system.name]] < 0.5:
            continue
        for member, (low, high) in system.members.items():
            ends = (low, min(high, library.material[member].max_use))
            within = tuple(dose_limit(system, member, side, b) for side, b in zip(SIDES, ends, strict=True))
            value = float(values[library.arrays.material_index[member]])
            yield _row(f"{member} in {system.name}", within, value, ends, "% w/w")
        pH = None if catalogue.conditions.bench else catalogue.find("pH").value(values[: program.size])
        place = program.index_of.get(Key("system-pH", (system.name,)))
        if place is not None and pH is not None:
            asked = program.requirements[place]
            within = tuple(
                replace(
                    asked,
                    key=Key("pH", (number(b),), side),
                    measure="pH",
                    side=side,
                    bound=b,
                    label="pH",
                    choice=False,
                )
                for side, b in zip(SIDES, system.working_pH, strict=True)
                if b is not None
            )
            yield _row(f"pH for {system.name}", within, pH, system.working_pH, "", digits=1)


def _row(
    limit: str,
    requirements: tuple[Requirement, ...],
    value: float,
    ends: tuple[float | None, float | None],
    unit: str,
    *,
    which: str = "",
    digits: int = COUNTED,
) -> Slack:
    low, high = ends
    return Slack(
        limit=limit,
        requirements=requirements,
        value=value,
        unit=unit,
        digits=digits,
        at_least=low,
        at_most=high,
        below=None if low is None else _settled(value - low, low),
        above=None if high is None else _settled(high - value, high),
        which=which,
    )


def _settled(room: float, bound: float) -> float:
    """Return a room without what the tolerance allows: met is met."""
    return 0.0 if abs(room) <= TOLERANCE * max(1.0, abs(bound)) else float(room)


def label_of(requirement: Requirement) -> str:
    """Return what a limit is about, without its number: "active matter", "humectant"."""
    if requirement.side is None or requirement.bound is None:
        return requirement.title
    return requirement.label.rstrip(":") or requirement.measure or requirement.title
