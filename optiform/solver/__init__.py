"""Solves programs with HiGHS; no other room calls the solver."""

from optiform.solver.clock import NO_LIMIT, Clock, OutOfTime, Progress
from optiform.solver.direct import solve_arrays
from optiform.solver.leaves import BUDGET, FIRST, Memory
from optiform.solver.outcome import Outcome
from optiform.solver.refuting import Cause, Refuting
from optiform.solver.reoptimising import Reoptimising, Within
from optiform.solver.session import Session

__all__ = [
    "BUDGET",
    "FIRST",
    "NO_LIMIT",
    "Cause",
    "Clock",
    "Memory",
    "OutOfTime",
    "Outcome",
    "Progress",
    "Refuting",
    "Reoptimising",
    "Session",
    "Within",
    "solve_arrays",
]
