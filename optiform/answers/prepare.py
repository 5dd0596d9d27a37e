"""From a brief to a program at an ionic strength that its own best formula confirms."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from optiform.answers.rank import best
from optiform.measures.acidity import charge_curves
from optiform.program import Program, at_strength, build
from optiform.solver import Outcome, Session

if TYPE_CHECKING:
    from collections.abc import Iterable

    from optiform.brief.models import Brief

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


def prepare(brief: Brief, deadline: float | None = None) -> Program:
    """State a brief as a program, with one ionic strength for all its formulas.

    Raises
    ------
    BadInput
        If a rule or the aim names a measure that cannot serve there.
    """
    program = build(brief)
    return ground(program, deadline).program if program.acid_rows else program


def ground(program: Program, deadline: float | None = None) -> Ground:
    """Solve a program for its best formula, at an ionic strength that this formula confirms.

    A dosed pH needs the ionic strength, which needs a formula: the best mixture with all choices
    relaxed gives a first figure, the best formula the next, at most a few rounds of each. The proof
    of a ranking is relative to the strength found last.
    """
    session = Session(program.form, deadline=deadline)
    program = relaxed_ground(program, session)
    first = best(session, program.form.objective, program.ratio_aim)
    for _ in range(ROUNDS if program.acid_rows else 0):
        moved = settled(program, session, first)
        if moved is None:
            break
        program = moved
        first = best(session, program.form.objective, program.ratio_aim)
    return Ground(program, session, first)


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
    found = charge_curves(program.library).settle(outcome.values[: program.size])
    if found is None or abs(found.ionic_strength - program.catalogue.conditions.ionic_strength) < CLOSE:
        return None
    moved = at_strength(program, found.ionic_strength)
    for acid in moved.acid_rows:
        session.set_row(acid.row, moved.form.row(acid.row))
    return moved
