"""Finds a first formula by rounding the relaxation, then the best one, or proves that there is none."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.program import Program
from optiform.program.rows.moves import MeasureMove
from optiform.search.ranking import best, best_expected
from optiform.search.tree import searched
from optiform.solver import Cause, Outcome, OutOfTime, Refuting, Session
from optiform.tolerances import CLEAR
from optiform.vectors import Floats

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping


def in_time(outcome: Outcome) -> Outcome:
    """Return an outcome that tells whether there is a solution.

    Raises
    ------
    OutOfTime
        If the search was stopped before anything was found.
    """
    if outcome.status == "stopped" and outcome.values is None:
        raise OutOfTime
    return outcome


def mixable(session: Session, program: Program) -> bool:
    """Tell whether any mixture is possible with all choices relaxed; "no" is proof, "yes" is not."""
    with session.trial():
        session.set_objective(np.zeros(program.form.columns))
        return in_time(relaxed(session)).status != "infeasible"


def witness(session: Session, program: Program) -> Outcome:
    """Find any solution of what a session holds, or prove that there is none; stopped at once after Ctrl-C."""
    if session.clock.interrupted():
        return Outcome("stopped", np.inf, -np.inf)
    with session.trial():
        session.set_objective(np.zeros(program.form.columns))
        mixture = relaxed(session)
        if mixture.values is None:
            return mixture
        found = rounded_choices(session, program, mixture.values)
        if found.values is not None:
            return found
        causes: list[Cause | None] = []

        def refused(_: object) -> None:
            causes.append(session.cause() if isinstance(session, Refuting) else None)

        found, certain = searched(session, np.zeros(program.form.columns), refused=refused)
        return found if certain else decided(session, program, causes)


def decided(session: Session, program: Program, causes: Iterable[Cause | None]) -> Outcome:
    """Let the solver find any solution of what a session holds, or prove that there is none.

    It is asked for the least that the limit has to give which most of the branches seen so far were refused by.
    """
    seen = Counter(row for cause in causes if cause is not None for row in cause[0])
    if isinstance(session, Refuting) and not program.form.norms:
        for row, _ in seen.most_common():
            if row < len(program.row_requirement) and session.one_sided(row):
                moves = program.moves.get(int(program.row_requirement[row]), ())
                if any(place == row and isinstance(move, MeasureMove) for place, move in moves):
                    return session.decide(row)
    return session.solve()


def optimum(session: Session, program: Program, objective: Floats, base: Floats | None = None) -> Outcome:
    """Solve for the least of an objective, or of its ratio to a base.

    The relaxation's choices, taken whole, most often make a formula within a thousandth of the best; that bound
    on the objective is worth more to the solver than anything that it finds out itself.
    """
    if base is not None:
        return best(session, objective, base)
    with session.trial():
        session.set_objective(objective)
        mixture = relaxed(session)
        if mixture.values is None:
            return mixture
        found = rounded_choices(session, program, mixture.values)
        known, proven = searched(session, objective, found if found.status == "solved" else None)
        if proven:
            return known
        if known.values is None:
            return session.solve()
        better = best_expected(session, objective, None, known)
        return better if better.found else replace(known, status="stopped", bound=better.bound)


def hold(session: Session, program: Program, values: Floats) -> None:
    """Hold the choices that a solution takes."""
    whole = np.flatnonzero(program.form.integer)
    session.hold_columns(whole, np.round(values[whole]))


def relaxed(
    session: Session, refused: Callable[[Mapping[int, tuple[float, float]]], None] | None = None
) -> Outcome:
    """Solve with every choice relaxed; where that has no solution, `refused` is told while the session holds it."""
    with session.trial():
        session.relax()
        outcome = session.solve()
        if outcome.status == "infeasible" and refused is not None:
            refused({})
        return outcome


def rounded_choices(session: Session, program: Program, mixture: Floats) -> Outcome:
    """Solve with every choice taken whole that a mixture takes in part; of the systems, that with the largest part."""
    with session.trial():
        session.relax()
        if program.systems:
            columns = list(program.systems.values())
            main = columns[int(np.argmax(mixture[columns]))]
            for column in columns:
                if column != main or mixture[main] <= CLEAR:
                    session.set_column_bounds(column, 0.0, 0.0)
            outcome = session.solve()
            if outcome.values is None:
                return outcome
            mixture = outcome.values
        mixture = mixture.copy()
        for choice in program.upper_ends:
            mixture[np.delete(choice.columns, np.argmax(mixture[choice.columns]))] = 0.0
        hold(session, program, np.where(mixture > CLEAR, np.maximum(mixture, 1.0), 0.0))
        return session.solve()
