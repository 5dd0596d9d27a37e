"""The only room that knows the solver: one session, quiet, verified, typed."""

from optiform.solver.direct import solve_arrays
from optiform.solver.outcome import Outcome
from optiform.solver.session import LOOKS, Session
from optiform.stopping import pressed

__all__ = ["LOOKS", "Outcome", "Session", "pressed", "solve_arrays"]
