"""Finds a formula by rounding the relaxation, then whatever is better, or the proof that nothing is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.program import Program
from optiform.search.ranking import best, best_expected
from optiform.search.tree import searched
from optiform.solver import Outcome, OutOfTime, Session
from optiform.tolerances import CLEAR
from optiform.vectors import Floats


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
        return in_time(_relaxed(session)).status != "infeasible"


def witness(session: Session, program: Program) -> Outcome:
    """Find any solution of what a session holds, or prove that there is none; stopped at once after Ctrl-C."""
    if session.clock.interrupted():
        return Outcome("stopped", np.inf, -np.inf)
    with session.trial():
        session.set_objective(np.zeros(program.form.columns))
        relaxed = _relaxed(session)
        if relaxed.values is None:
            return relaxed
        found = rounded_choices(session, program, relaxed.values)
        if found.values is not None:
            return found
        found, certain = searched(session, np.zeros(program.form.columns))
        return found if certain else session.solve()


def optimum(session: Session, program: Program, objective: Floats, base: Floats | None = None) -> Outcome:
    """Solve for the least of an objective, or of its ratio to a base.

    The relaxation's choices, taken whole, most often make a formula within a thousandth of the best; that bound
    on the objective is worth more to the solver than anything that it finds out itself.
    """
    if base is not None:
        return best(session, objective, base)
    with session.trial():
        session.set_objective(objective)
        relaxed = _relaxed(session)
        if relaxed.values is None:
            return relaxed
        found = rounded_choices(session, program, relaxed.values)
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


def _relaxed(session: Session) -> Outcome:
    """Solve with every choice relaxed."""
    with session.trial():
        session.relax()
        return session.solve()


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
        hold(session, program, np.where(mixture > CLEAR, np.maximum(mixture, 1.0), 0.0))
        return session.solve()
