"""A joint compromise: every colliding limit may give a little, in as few sensible steps as possible."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.answer import Relaxation
from optiform.answers.moving import GRID, rounded
from optiform.answers.rank import best
from optiform.answers.steps import step
from optiform.measures.acidity import Acidity
from optiform.program import TOLERANCE, Form, SparseRow
from optiform.program.moves import MeasureMove
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.answers.moving import Mover
    from optiform.library.arrays import Floats
    from optiform.program import Program
    from optiform.solver import Outcome

ROUNDS = 3
TENTH = 10.0
"""Size of the base of a ratio, % w/w, where no formula is known yet."""

CLOSE = 0.05
HALF = 0.5
"""No limit gives more than this part of what it would have to give alone."""


def joint(
    mover: Mover, movable: Sequence[int], alone: Mapping[str, float | None], near: Floats | None = None
) -> tuple[tuple[Relaxation, ...], Outcome] | None:
    """Return relaxations that make the brief possible together, and the best formula under them.

    Parameters
    ----------
    mover : Mover
    movable : sequence of int
        Requirements of the program that may give.
    alone : mapping of str to float
        Per requirement key, the bound at which it would make the brief possible by itself.
    near : ndarray, shape (n,), optional  [% w/w]
        A formula to start from, for the bases of ratios.

    Notes
    -----
    The sum of the relaxations, each counted in sensible steps (`optiform.answers.steps`), is the
    least, while no limit gives more than half of what it would have to give alone. For a ratio the
    size of its base enters as in the formula found last, so there the sum is the least only
    near that formula. Every bound is then rounded to the side that works and solved again.
    """
    program = mover.program
    indices = [index for index in movable if _linear(program, index)]
    if len(indices) < 2:
        return None
    for capped in (True, False):
        shortfalls = _least_total(program, indices, _caps(program, indices, alone) if capped else {}, near)
        if shortfalls is None:
            continue
        outcome, bounds = _solved(mover, shortfalls)
        if outcome is not None:
            return tuple(_relaxation(program, index, to) for index, to in bounds.items()), outcome
    return None


def _linear(program: Program, index: int) -> bool:
    """Tell whether each row of a requirement can be eased by a column: all but pH."""
    if program.requirements[index].side == "equal":
        return False
    return all(
        isinstance(move, MeasureMove) and not isinstance(move.measure, Acidity) for _, move in program.moves[index]
    )


def _caps(program: Program, indices: Sequence[int], alone: Mapping[str, float | None]) -> dict[int, float]:
    """Return the most that each limit may give, where it is known what it would give alone."""
    caps = {}
    for index in indices:
        requirement = program.requirements[index]
        to = alone.get(requirement.key)
        if to is not None and requirement.bound is not None:
            caps[index] = HALF * abs(to - requirement.bound)
    return caps


def _least_total(
    program: Program, indices: Sequence[int], caps: Mapping[int, float], near: Floats | None
) -> dict[int, float] | None:
    """Return the bound that a formula of least total relaxation reaches for each requirement."""
    bases = {index: TENTH if near is None else _base(program, index, near) for index in indices}
    found: dict[int, float] | None = None
    for _ in range(ROUNDS):
        eased = _eased(program, indices, bases, caps)
        outcome = Session(eased).solve()
        if outcome.values is None:
            return found
        amounts = outcome.values[: program.size]
        found = {index: _reached(program, index, amounts) for index in indices}
        new = {index: _base(program, index, amounts) for index in indices}
        if all(_total(program, index) or abs(new[index] - bases[index]) <= CLOSE * new[index] for index in indices):
            break
        bases = new
    return found


def _total(program: Program, index: int) -> bool:
    return all(getattr(move, "measure").denominator is None for _, move in program.moves[index])


def _base(program: Program, index: int, amounts: Floats) -> float:
    """Return d(row right-hand side) / d(bound) at a formula, the largest of the rows."""
    bound = program.requirements[index].bound or 0.0
    return max(1e-3, *(abs(move.scale(amounts, bound)) for _, move in program.moves[index]))


def _reached(program: Program, index: int, amounts: Floats) -> float:
    """Return the tightest bound that a formula meets, no tighter than the one asked for."""
    requirement = program.requirements[index]
    bound = requirement.bound or 0.0
    at_least = requirement.side == "at_least"
    values = [
        value
        for _, move in program.moves[index]
        if isinstance(move, MeasureMove) and (value := move.measure.value(amounts)) is not None
    ]
    if not values:
        return bound
    return min(bound, *values) if at_least else max(bound, *values)


def _eased(
    program: Program, indices: Sequence[int], bases: Mapping[int, float], caps: Mapping[int, float]
) -> Form:
    """Return the form with one column per requirement that eases its rows; their sum in steps is the objective."""
    form = program.form
    owner = {int(row): place for place, index in enumerate(indices) for row, _ in program.moves[index]}
    rows: list[SparseRow] = []
    for row in range(form.rows):
        content = form.row(row)
        if row in owner:
            index = indices[owner[row]]
            ease = _scale(program, index, bases[index]) * (1.0 if np.isfinite(content.lower) else -1.0)
            column = form.columns + owner[row]
            content = SparseRow(
                np.append(content.indices, column), np.append(content.values, ease), content.lower, content.upper
            )
        rows.append(content)
    steps = [step(program.requirements[index]) for index in indices]
    lengths = np.array([len(row.indices) for row in rows], dtype=np.intp)
    return replace(
        form,
        lower=np.append(form.lower, np.zeros(len(indices))),
        upper=np.append(form.upper, [caps.get(index, np.inf) for index in indices]),
        integer=np.append(form.integer, np.zeros(len(indices), dtype=bool)),
        objective=np.append(np.zeros(form.columns), 1.0 / np.array(steps)),
        starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.intp),
        indices=np.concatenate([row.indices for row in rows]).astype(np.intp),
        values=np.concatenate([row.values for row in rows]),
    )


def _scale(program: Program, index: int, base: float) -> float:
    return 1.0 if _total(program, index) else base


def _solved(mover: Mover, reached: Mapping[int, float]) -> tuple[Outcome | None, dict[int, float]]:
    """Solve again with the bounds as printed."""
    program, session = mover.program, mover.session
    bounds = {}
    for index, value in reached.items():
        requirement = program.requirements[index]
        if abs(value - (requirement.bound or 0.0)) <= 2 * TOLERANCE:
            continue
        to = round(rounded(value, -1 if requirement.side == "at_least" else 1), 2)
        if abs(to - (requirement.bound or 0.0)) >= GRID / 2:
            bounds[index] = to
    with session.trial():
        for index, to in bounds.items():
            for row, move in program.moves[index]:
                session.set_row(row, move.row(to))
        outcome = best(session, program.form.objective, program.ratio_aim)
    return (outcome if outcome.values is not None else None), bounds


def _relaxation(program: Program, index: int, to: float) -> Relaxation:
    requirement = program.requirements[index]
    return Relaxation(requirement, to, abs(to - (requirement.bound or 0.0)))
