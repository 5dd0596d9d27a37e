"""The only room that knows the solver: one session, quiet, verified, typed."""

from optiform.solver.clock import NO_LIMIT, Clock, OutOfTime, Progress
from optiform.solver.direct import solve_arrays
from optiform.solver.outcome import Outcome
from optiform.solver.session import Session

__all__ = [
    "NO_LIMIT",
    "Clock",
    "OutOfTime",
    "Outcome",
    "Progress",
    "Session",
    "solve_arrays",
]
