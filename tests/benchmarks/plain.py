"""The plain way, as a process of its own: read the library, state the whole program, solve it once.

``python -m tests.benchmarks.plain highs BRIEF 0.19`` prints the aim, less being better, as JSON. The
program is the one that `optiform.program.build` states, over all materials, at the ionic strength of
the formula that optiform found first: so only one solve is counted here, where a plain program would
have to find that strength too. Every solver closes the gap and uses one thread.

- highs, cbc: the program in PuLP, handed to that solver;
- scipy: the same arrays, handed to `scipy.optimize.milp`;
- ten: ten formulas in PuLP's HiGHS, one row more for each that keeps out the structures before it;
  each is solved again at its own ionic strength, as optiform does.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.brief import load_brief
from optiform.program import build
from tests.benchmarks.instances import HOW_MANY
from tests.benchmarks.report import NOT_HERE

if TYPE_CHECKING:
    from optiform.program import Form, Program


def stated(form: Form) -> Form:
    """Return a form without the rows that ask for nothing."""
    asks = np.isfinite(form.row_lower) | np.isfinite(form.row_upper)
    stays = asks[form.owner]
    counts = np.diff(form.starts)[asks]
    return replace(
        form,
        starts=np.concatenate([[0], np.cumsum(counts)]).astype(np.intp),
        indices=form.indices[stays],
        values=form.values[stays],
        row_lower=form.row_lower[asks],
        row_upper=form.row_upper[asks],
    )


def by_pulp(form: Form, name: str) -> float:
    """Return the least of the objective through PuLP."""
    import pulp

    from optiform.solver.statement import OPTIONS, state

    if name == "cbc":
        finer = ["primalTolerance 1e-9", "dualTolerance 1e-9", "integerTolerance 1e-9"]
        solver = pulp.PULP_CBC_CMD(msg=False, threads=1, gapRel=0.0, gapAbs=0.0, options=finer)
    else:
        solver = pulp.HiGHS(msg=False, threads=1, gapRel=0.0, gapAbs=0.0, **OPTIONS)
    if not solver.available():
        raise SystemExit(NOT_HERE)
    problem = state(form)
    problem.solve(solver)
    if pulp.LpStatus[problem.status] != "Optimal":
        raise SystemExit(f"{name} came back with {pulp.LpStatus[problem.status]}")
    return float(pulp.value(problem.objective))


def by_scipy(form: Form) -> float:
    """Return the least of the objective through scipy.optimize.milp."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    matrix = csr_array((form.values, form.indices, form.starts), shape=(form.rows, form.columns))
    found = milp(
        form.objective,
        integrality=form.integer.astype(int),
        bounds=Bounds(form.lower, form.upper),
        constraints=LinearConstraint(matrix, form.row_lower, form.row_upper),
        options={"mip_rel_gap": 0.0},
    )
    if found.status != 0:
        raise SystemExit(f"scipy came back with {found.message}")
    return float(found.fun)


def ten(program: Program) -> list[float]:
    """Return the aims of the ten best formulas, each at its own ionic strength, in order."""
    from optiform.search.fixed_choices import polish
    from optiform.search.ranking import Candidate, rank

    listed = [item for item in rank(program, HOW_MANY) if isinstance(item, Candidate)]
    return sorted(found.objective for found in (polish(program, item.values) for item in listed) if found)


def main(name: str, brief: str, strength: str) -> None:
    """Solve one brief one way."""
    program = build(load_brief(brief), float(strength))
    if name == "ten":
        aims = ten(program)
    elif name == "scipy":
        aims = [by_scipy(stated(program.form))]
    else:
        aims = [by_pulp(stated(program.form), name)]
    print("\n" + json.dumps({"aims": aims, "columns": program.form.columns, "rows": program.form.rows}))


if __name__ == "__main__":
    main(*sys.argv[1:])
