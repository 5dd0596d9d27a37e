"""A form stated in PuLP, and handed to HiGHS quietly."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from typing import Any

import numpy as np
import pulp

from optiform.program import Form
from optiform.tolerances import SOLVER

OPTIONS: dict[str, Any] = {
    "output_flag": False,
    "random_seed": 0,
    "primal_feasibility_tolerance": SOLVER,
    "dual_feasibility_tolerance": SOLVER,
    "mip_feasibility_tolerance": SOLVER,
}

CLOSED: dict[str, Any] = {"mip_rel_gap": 0.0, "mip_abs_gap": SOLVER}
"""Nothing is left between the best solution and its proof."""


def state(form: Form) -> pulp.LpProblem:
    """State a form as a PuLP problem: opaque names in column order, minimised, no constant.

    The objective names every column, at 0 too: PuLP would drop one that stands nowhere.

    A row that asks for nothing cannot be said in PuLP: it is stated as <= 0, and `stated` opens it.

    Raises
    ------
    ValueError
        If a row has two different finite bounds; PuLP rows have one sense.
    """
    problem = pulp.LpProblem("optiform", pulp.LpMinimize)
    columns = [
        problem.add_variable(
            f"c{index:07d}", _end(low), _end(high), pulp.LpInteger if whole else pulp.LpContinuous
        )
        for index, (low, high, whole) in enumerate(zip(form.lower, form.upper, form.integer, strict=True))
    ]
    problem.setObjective(from_terms(list(zip(columns, form.objective.tolist(), strict=True))))
    for index in range(form.rows):
        row = form.row(index)
        terms = zip(row.indices.tolist(), row.values.tolist(), strict=True)
        expression = from_terms([(columns[i], value) for i, value in terms])
        if row.lower == row.upper:
            constraint = expression == row.lower
        elif np.isinf(row.lower):
            constraint = expression <= (0.0 if np.isinf(row.upper) else row.upper)
        elif np.isinf(row.upper):
            constraint = expression >= row.lower
        else:
            raise ValueError(f"row {index} has two bounds")
        problem.addConstraint(constraint, f"r{index:07d}")
    return problem


def _end(bound: float) -> float | None:
    """Return a bound as PuLP writes it: none where there is no end."""
    return float(bound) if np.isfinite(bound) else None


_one_at_a_time = threading.Lock()

from_terms: Any = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)
"""A sum of (variable, factor) pairs, without the twenty-fold price of adding products; PuLP 4 has a name for it."""


class QuietHiGHS(pulp.HiGHS):  # type: ignore[misc]
    """HiGHS through PuLP, silent from its construction on, and only built, not run."""

    def createAndConfigureSolver(self, lp: pulp.LpProblem) -> None:
        """Build the solver object with file descriptor 1 pointed away: it greets before it can be silenced."""
        with stdout_away():
            super().createAndConfigureSolver(lp)


def solver() -> QuietHiGHS:
    """Return HiGHS with gaps closed, one thread and a fixed seed, so that a ranking is proven and repeatable."""
    gaps = {"gapRel": CLOSED["mip_rel_gap"], "gapAbs": CLOSED["mip_abs_gap"]}
    return QuietHiGHS(msg=False, threads=1, **gaps, **OPTIONS)


def stated(form: Form) -> Any:
    """Return a solver that holds a form as PuLP hands it over; rows that ask for nothing are open."""
    problem = state(form)
    quiet = solver()
    quiet.createAndConfigureSolver(problem)
    quiet.buildSolverModel(problem)
    highs: Any = problem.solverModel
    for row in np.flatnonzero(np.isinf(form.row_lower) & np.isinf(form.row_upper)):
        highs.changeRowBounds(int(row), -np.inf, np.inf)
    return highs


@contextlib.contextmanager
def stdout_away() -> Iterator[None]:
    """Point file descriptor 1 at nothing for a moment; one thread at a time, so that it is always put back."""
    with _one_at_a_time:
        try:
            kept = os.dup(1)
        except OSError:
            yield
            return
        sys.stdout.flush()
        nothing = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nothing, 1)
            yield
        finally:
            os.dup2(kept, 1)
            os.close(nothing)
            os.close(kept)
