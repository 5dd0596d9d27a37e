"""Builds the program of a brief at an ionic strength that its own best formula confirms."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.measures.acidity import charge_curves
from optiform.program import Program, at_strength, build
from optiform.program.reduction.tighten import tightened
from optiform.search.incumbent import in_time, optimum, witness
from optiform.search.ranking import best
from optiform.solver import NO_LIMIT, Clock, Outcome, Refuting, Session

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from optiform.brief.models import Brief
    from optiform.vectors import Floats

ROUNDS = 3
RELAXED_ROUNDS = 4
CLOSE = 0.01
"""Ionic strengths this near make the same ranking, mol per kg of water."""


@dataclass(frozen=True, eq=False)
class Ground:
    """A program at its ionic strength, the live session that holds it, and what its aim came to.

    Attributes
    ----------
    program : Program
    session : Session
    first : Outcome
        The best formula, or why there is none.
    """

    program: Program = field(repr=False)
    session: Session = field(repr=False)
    first: Outcome = field(repr=False)


def prepare(brief: Brief, clock: Clock = NO_LIMIT) -> Program:
    """State a brief as a program, with one ionic strength for all its formulas.

    Raises
    ------
    BadInput
        If a rule or the aim names a measure that cannot serve there.
    """
    program = build(brief)
    return ground(program, clock).program if program.acid_rows else program


def ground(program: Program, clock: Clock = NO_LIMIT, *, arrays: bool = False) -> Ground:
    """Solve a program for its best formula, at an ionic strength that this formula confirms.

    A what-if of something that was asked goes to the solver as `arrays`, without a statement of its own.

    A dosed pH needs the ionic strength, which needs a formula: the best mixture with all choices
    relaxed gives a first figure, the best formula the next, at most a few rounds of each. The proof
    of a ranking is relative to the strength found last. A strength at which nothing is possible is
    left again: a pH window that is only just held may be held at one strength and not at another.
    """
    session = Session(program.form, clock=clock, arrays=arrays)
    given, program = program, relaxed_ground(program, session)
    first = optimum(session, program, program.form.objective, program.ratio_aim)
    if first.status == "infeasible" and program is not given:
        first = optimum(_held(given, session), given, given.form.objective, given.ratio_aim)
        program = given
    for _ in range(ROUNDS if program.acid_rows else 0):
        moved = settled(program, session, first)
        if moved is None:
            break
        there = optimum(session, moved, moved.form.objective, moved.ratio_aim)
        if there.status == "infeasible":
            _held(program, session)
            break
        program, first = moved, there
    return Ground(program, session, first)


def formulas(program: Program, clock: Clock = NO_LIMIT) -> Iterator[tuple[Program, Floats]]:
    """Yield a program at each ionic strength at which `ground` looks for its best formula, with any formula there.

    That takes less than to find the best one; where none is yielded, `ground` finds none.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    moved = relaxed_ground(program, Session(program.form, clock=clock, arrays=True))
    for there in [moved] if moved is program else [moved, program]:
        tight = tightened(there)
        found = in_time(witness(Refuting(tight.form, clock=clock, arrays=True), tight)).values
        if found is not None:
            yield there, np.where(there.form.integer, np.round(found), found)


def relaxed_ground(program: Program, session: Session, dropped: Iterable[int] = ()) -> Program:
    """Move program and session to the ionic strength of the best mixture with all choices relaxed.

    `dropped` are rows that do not count for once.
    """
    dropped = tuple(dropped)
    for _ in range(RELAXED_ROUNDS if program.acid_rows else 0):
        with session.trial():
            session.release(dropped)
            session.relax()
            relaxed = best(session, program.form.objective, program.ratio_aim)
        moved = settled(program, session, relaxed)
        if moved is None:
            break
        program = moved
    return program


def settled(program: Program, session: Session, outcome: Outcome) -> Program | None:
    """Move program and session to the ionic strength of a solution; None if they are there, or there is none."""
    if outcome.values is None:
        return None
    moved = confirmed(program, outcome.values)
    if moved is not None:
        _held(moved, session)
    return moved


def _held(program: Program, session: Session) -> Session:
    """Let a session hold the rows of charge as a program has them."""
    for acid in program.acid_rows:
        session.set_row(acid.row, program.form.row(acid.row))
    return session


def confirmed(program: Program, values: Floats) -> Program | None:
    """Return the program at the ionic strength of a solution; None if it is there, or nothing depends on it."""
    if not program.acid_rows:
        return None
    found = charge_curves(program.library).settle(values[: program.size])
    if found is None or abs(found.ionic_strength - program.catalogue.conditions.ionic_strength) < CLOSE:
        return None
    return at_strength(program, found.ionic_strength)
