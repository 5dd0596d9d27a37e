"""Builds a linear form column by column and row by row, and minimises it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.faults import InternalError
from optiform.program import Form
from optiform.solver import NO_LIMIT, Clock, Outcome, Session
from optiform.tolerances import EQUAL

Terms = list[tuple[int, float]]
"""Columns, each with what it is multiplied by."""
UNEVEN = math.sqrt(2.0)
"""Costs are stated as so many times what they are: where all are whole numbers the solver rounds its bounds up, and
noise beyond its tolerance then proves a cent too much."""


@dataclass
class FormBuilder:
    """A form under construction: columns with their costs first, then rows over them."""

    upper: list[float] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)
    integer: list[bool] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)

    def column(self, upper: float, cost: float = 0.0, *, integer: bool = True) -> int:
        """Add a column from 0 to `upper` and return its place."""
        self.upper.append(float(upper))
        self.cost.append(float(cost))
        self.integer.append(integer)
        return len(self.upper) - 1

    def row(self, terms: Iterable[tuple[int, float]], lower: float, upper: float) -> None:
        """Add a row; terms of the same column are added up."""
        summed: dict[int, float] = {}
        for column, value in terms:
            summed[column] = summed.get(column, 0.0) + value
        self.rows.append(({column: value for column, value in summed.items() if value}, lower, upper))

    def at_least(self, terms: Iterable[tuple[int, float]], lower: float = 0.0) -> None:
        """Demand that terms come to `lower` or more."""
        self.row(terms, lower, np.inf)

    def at_most(self, terms: Iterable[tuple[int, float]], upper: float = 0.0) -> None:
        """Demand that terms come to `upper` or less."""
        self.row(terms, -np.inf, upper)

    def form(self) -> Form:
        """Return the finished form."""
        lengths = [len(terms) for terms, *_ in self.rows]
        return Form(
            lower=np.zeros(len(self.upper)),
            upper=np.array(self.upper),
            integer=np.array(self.integer, dtype=bool),
            objective=np.array(self.cost),
            starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.intp),
            indices=np.array([column for terms, *_ in self.rows for column in terms], dtype=np.intp),
            values=np.array([value for terms, *_ in self.rows for value in terms.values()], dtype=float),
            row_lower=np.array([lower for _, lower, _ in self.rows]),
            row_upper=np.array([upper for *_, upper in self.rows]),
        )


def least(form: Form, below: float = np.inf, apart: float = 0.0, clock: Clock = NO_LIMIT) -> Outcome:
    """Return the proven minimum of a form; without values where nothing costs less than `below`.

    Parameters
    ----------
    below : float, optional
        Only what costs less is looked for.
    apart : float, optional
        What costs less than this more than the least is as good.
    clock : Clock
        Once its time is over the best so far is returned, as stopped, with what it proved.

    Raises
    ------
    KeyboardInterrupt
        If the user stopped the solver: what it has by then is not proven.
    InternalError
        If the solution is not the one that the solver says it proved.
    """
    session = Session(replace(form, objective=form.objective * UNEVEN), clock=clock, arrays=True)
    if apart:
        session.accept_within(apart * UNEVEN)
    found = session.below(below * UNEVEN) if below < np.inf else session.solve()
    found = replace(found, objective=found.objective / UNEVEN, bound=found.bound / UNEVEN)
    if session.stopped_by_user:
        raise KeyboardInterrupt
    if found.values is not None and abs(form.objective @ found.values - found.objective) > EQUAL * max(
        1.0, abs(found.objective)
    ):
        raise InternalError("the solver's solution does not cost what it proved to be the least")
    return found
