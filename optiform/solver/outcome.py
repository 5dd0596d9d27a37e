"""What a solve came to, copied out of the solver."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from optiform.vectors import Floats

Status = Literal["solved", "infeasible", "stopped"]


@dataclass(frozen=True, eq=False)
class Outcome:
    """One solve.

    Attributes
    ----------
    status : str
        solved (and proven), infeasible, or stopped at a limit or by the user.
    objective : float
        Value of the form's objective; infinite where there is no solution.
    bound : float
        No solution is better than this.
    values : ndarray, shape (columns,), optional
        The solution, or the best so far; absent where there is none.
    row_dual, reduced_cost : ndarray, optional
        dz/d(right-hand side) of each row and dz/d(bound) of each column; continuous programs only.
    """

    status: Status
    objective: float
    bound: float
    values: Floats | None = field(default=None, repr=False)
    row_dual: Floats | None = field(default=None, repr=False)
    reduced_cost: Floats | None = field(default=None, repr=False)

    @property
    def found(self) -> bool:
        """Tell whether there is a solution, proven or not."""
        return self.values is not None


def still_best(known: Outcome, last: Outcome) -> Outcome:
    """Return the best solution that holds its norms after the last solve looked for a better one."""
    if last.status == "infeasible":
        return replace(known, bound=known.objective)
    return replace(known, status="stopped", bound=last.bound)
