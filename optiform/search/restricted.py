"""Solves a program in which only some materials may move."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.program import Program
from optiform.search.fixed_choices import Polished, Ties, polish
from optiform.search.incumbent import in_time
from optiform.search.ranking import best
from optiform.solver import NO_LIMIT, Clock, Session
from optiform.vectors import Floats


def restricted(program: Program, amounts: Floats, free: Collection[int]) -> Program:
    """Return the program with every material held at an amount, except those that are free.

    Parameters
    ----------
    program : Program
    amounts : ndarray, shape (n,)  [% w/w]
    free : collection of int
        Positions of the materials that may move within their use levels.
    """
    size = program.size
    held = np.ones(size, dtype=bool)
    held[list(free)] = False
    lower, upper = program.form.lower.copy(), program.form.upper.copy()
    lower[:size] = np.where(held, amounts, lower[:size])
    upper[:size] = np.where(held, amounts, upper[:size])
    return replace(program, form=replace(program.form, lower=lower, upper=upper))


@dataclass
class Held:
    """Asks again and again what is best when only these materials may move; in time, or `OutOfTime` is raised.

    Attributes
    ----------
    program : Program
    amounts : ndarray, shape (n,)  [% w/w]
        Where all the other materials stay.
    then, tie
        Tie-breaks of an exact formula, as in `polish`.
    """

    program: Program
    amounts: Floats
    then: Ties = ()
    tie: float = 0.0
    clock: Clock = NO_LIMIT
    session: Session = field(init=False)

    def __post_init__(self) -> None:
        """Open one live solver with every material held."""
        self.session = Session(restricted(self.program, self.amounts, ()).form, clock=self.clock)

    def aim(self, free: Collection[int]) -> tuple[float, Floats] | None:
        """Return the best aim (signed so that less is better) and its column values, or None."""
        form = self.program.form
        with self.session.trial():
            for column in sorted(free):
                self.session.set_column_bounds(column, float(form.lower[column]), float(form.upper[column]))
            outcome = in_time(best(self.session, form.objective, self.program.ratio_aim))
        return None if outcome.values is None else (outcome.objective, outcome.values)

    def exact(self, free: Collection[int]) -> Polished | None:
        """Return the exact formula at its own ionic strength, verified, or None."""
        found = self.aim(free)
        if found is None:
            return None
        values = found[1].copy()
        whole = self.program.form.integer
        values[whole] = np.round(values[whole])
        return polish(restricted(self.program, self.amounts, free), values, self.then, self.tie)
