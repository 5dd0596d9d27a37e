"""Solving with the preservative systems told apart first: what cannot be by the relaxed mixture is shut out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.rank import best
from optiform.solver import Outcome

if TYPE_CHECKING:
    from optiform.library.arrays import Floats
    from optiform.program import Program
    from optiform.solver import Session

PROBES = 12
DUST = 1e-7
IMPOSSIBLE = Outcome("infeasible", np.inf, np.inf)


def mixable(session: Session, program: Program) -> bool:
    """Tell whether any mixture is possible with all choices relaxed; "no" is proof, "yes" is not."""
    with session.trial():
        session.set_objective(np.zeros(program.form.columns))
        session.relax()
        return session.solve().status != "infeasible"


def witness(session: Session, program: Program) -> Outcome:
    """Find any solution of what a session holds, or prove that there is none."""
    with session.trial():
        session.set_objective(np.zeros(program.form.columns))
        cases = _cases(session, program)
        if not cases:
            return IMPOSSIBLE
        _only(session, program, [case for case, _ in cases])
        rounded = _rounded(session, program, cases[0][0])
        if rounded is not None:
            return rounded
        if not _probed(session, program):
            return IMPOSSIBLE
        return session.witness()


def optimum(session: Session, program: Program, objective: Floats, base: Floats | None = None) -> Outcome:
    """Solve for the least of an objective, or of its ratio to a base.

    Each system has its own bound from the relaxed mixture; those are solved in the order of their
    bounds until the next bound is no better than the best formula so far.
    """
    with session.trial():
        session.set_objective(objective)
        cases = _cases(session, program)
        if base is not None or len(cases) == 1:
            _only(session, program, [case for case, _ in cases])
            return best(session, objective, base) if cases and _probed(session, program) else IMPOSSIBLE
        found = IMPOSSIBLE
        for case, bound in cases:
            if bound >= found.objective:
                break
            with session.trial():
                _only(session, program, [case])
                outcome = session.solve() if _probed(session, program) else IMPOSSIBLE
            if outcome.status == "stopped":
                better = min(outcome, found, key=lambda one: one.objective)
                return Outcome("stopped", better.objective, min(outcome.bound, bound), better.values)
            if outcome.objective < found.objective:
                found = outcome
        return found


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


def _rounded(session: Session, program: Program, case: int | None) -> Outcome | None:
    """Return a solution that takes whole whatever the relaxed mixture takes in part, if there is one."""
    whole = np.flatnonzero(program.form.integer)
    with session.trial():
        session.relax()
        if case is not None:
            _only(session, program, [case])
        relaxed = session.solve()
        if relaxed.values is None:
            return None
        for column, value in zip(whole.tolist(), (relaxed.values[whole] > DUST).astype(float), strict=True):
            session.set_column_bounds(column, value, value)
        found = session.solve()
    return found if found.values is not None else None


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
