"""Solving with the preservative systems told apart first: what cannot be by the relaxed mixture is shut out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.program.reduction.tighten import closer
from optiform.search.ranking import best
from optiform.solver import CALLBACK_BUDGET, Outcome, OutOfTime, Session

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.library.arrays import Floats
    from optiform.program import Program

PROBES = 12

DUST = 1e-7
IMPOSSIBLE = Outcome("infeasible", np.inf, np.inf)
STOPPED = Outcome("stopped", np.inf, -np.inf)


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
        session.relax()
        return in_time(session.solve()).status != "infeasible"


def witness(session: Session, program: Program) -> Outcome:
    """Find any solution of what a session holds, or prove that there is none; stopped at once after Ctrl-C."""
    if session.clock.interrupted():
        return STOPPED
    with session.trial():
        session.set_objective(np.zeros(program.form.columns))
        with session.trial():
            session.relax()
            relaxed = session.solve()
        if relaxed.values is None:
            return relaxed
        found = _rounded(session, program, relaxed.values)
        if found.values is not None:
            return found
        found = _afresh(session, program).solve(callbacks=CALLBACK_BUDGET)
        if found.status != "stopped" or session.clock.interrupted():
            return found
        return _afresh(session, program).solve() if _probed(session, program) else IMPOSSIBLE


def hold(session: Session, program: Program, values: Floats) -> None:
    """Hold the choices that a solution takes."""
    whole = np.flatnonzero(program.form.integer)
    for column, value in zip(whole.tolist(), np.round(values[whole]).tolist(), strict=True):
        session.set_column_bounds(column, value, value)


def _holding(session: Session, program: Program, values: Floats) -> Outcome:
    """Solve with the choices that a solution takes."""
    with session.trial():
        session.relax()
        hold(session, program, values)
        return session.solve()


def optimum(session: Session, program: Program, objective: Floats, base: Floats | None = None) -> Outcome:
    """Solve for the least of an objective, or of its ratio to a base.

    Each system has its own bound from the relaxed mixture; those are solved in the order of their
    bounds until the next bound is no better than the best formula so far. What takes more than a
    little branching is asked afresh, all at once: see `_afresh`.
    """
    with session.trial():
        session.set_objective(objective)
        cases = _cases(session, program)
        if not cases:
            return IMPOSSIBLE
        _only(session, program, [case for case, _ in cases])
        if base is None:
            found = _by_case(session, program, cases)
            if found is not None:
                return found
        return best(_afresh(session, program), objective, base) if _probed(session, program) else IMPOSSIBLE


def _by_case(session: Session, program: Program, cases: Sequence[tuple[int | None, float]]) -> Outcome | None:
    """Return the best formula of all cases; None where that takes more than a little branching."""
    found = IMPOSSIBLE
    for case, bound in cases:
        if bound >= found.objective:
            break
        with session.trial():
            _only(session, program, [case])
            outcome = session.solve(callbacks=CALLBACK_BUDGET)
        if outcome.status == "stopped":
            return None
        if outcome.objective < found.objective:
            found = outcome
    return found


def _afresh(session: Session, program: Program) -> Session:
    """Return a session of its own for one hard question: its rows drawn closer, for what the session holds now.

    A session that is kept for thousands of questions answers easy ones in a millisecond or two. Hard
    ones, near the edge of what is possible above all, are worth presolve and rows that hold for this
    one question only.
    """
    return Session(closer(program, session.held()), clock=session.clock, hard=True)


def _cases(session: Session, program: Program) -> list[tuple[int | None, float]]:
    """Return each system's column with what the relaxed mixture comes to with it, the best first.

    None stands for no system at all. Cases that no mixture allows are left out.
    """
    with session.trial():
        session.relax()
        whole = session.solve()
        if whole.status == "infeasible" or not program.systems:
            return [(None, -np.inf)] if whole.status != "infeasible" else []
        found: list[tuple[int | None, float]] = []
        for case in (None, *program.systems.values()):
            with session.trial():
                _only(session, program, [case])
                if case is not None:
                    session.set_column_bounds(case, 1.0, 1.0)
                outcome = session.solve()
            if outcome.status != "infeasible":
                found.append((case, -np.inf if outcome.status == "stopped" else outcome.objective))
    return sorted(found, key=lambda item: (item[1], -1 if item[0] is None else item[0]))


def _rounded(session: Session, program: Program, mixture: Floats) -> Outcome:
    """Solve with every choice taken whole that a mixture takes in part; of the systems, that with the largest part."""
    with session.trial():
        session.relax()
        if program.systems:
            columns = list(program.systems.values())
            main = columns[int(np.argmax(mixture[columns]))]
            _only(session, program, [main if mixture[main] > DUST else None])
            outcome = session.solve()
            if outcome.values is None:
                return outcome
            mixture = outcome.values
    return _holding(session, program, np.where(mixture > DUST, np.maximum(mixture, 1.0), 0.0))


def _probed(session: Session, program: Program) -> bool:
    """Shut out choices that no mixture allows, among those taken in part; tell whether anything is left.

    Nothing that could be used is shut out, and a pH window that collides shows here in milliseconds.
    """
    for _ in range(PROBES):
        with session.trial():
            session.relax()
            relaxed = session.solve()
            if relaxed.values is None:
                return relaxed.status != "infeasible"
            values = relaxed.values
            taken = np.flatnonzero(program.form.integer & (values > DUST) & (values < 1.0 - DUST))
            dead = [column for column in taken.tolist() if not _allowed(session, column)]
        if not dead:
            return True
        for column in dead:
            session.set_column_bounds(column, 0.0, 0.0)
    return True


def _allowed(session: Session, column: int) -> bool:
    with session.trial():
        session.set_column_bounds(column, 1.0, 1.0)
        return session.solve().status != "infeasible"


def _only(session: Session, program: Program, cases: list[int | None]) -> None:
    """Shut out every system but some."""
    for column in program.systems.values():
        if column not in cases:
            session.set_column_bounds(column, 0.0, 0.0)
