"""Finds, among formulas equal by the aim and the tie-breaks, the cheapest and then the shortest."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from optiform.brief.models import Brief
from optiform.program import Program
from optiform.program.reduction.part import Part
from optiform.search.cardinality import ProvenCounts, fewest
from optiform.search.ranking import Candidate, another_structure, best, no_edge, value_of, within
from optiform.solver import NO_LIMIT, Clock, Outcome, Session
from optiform.tolerances import EQUAL, ROUNDING
from optiform.vectors import Floats

Objective = tuple["Floats", "Floats | None"]


WIDE = 1000
"""In a program of more columns only the formula's own materials are asked whether it can do without some."""


def cost_of(program: Program) -> Floats | None:
    """Return the cost over all columns [currency/kg], to be minimised among equals; None where it is the aim itself."""
    if program.aim.name == "cost" and program.aim_sign > 0:
        return None
    columns = np.zeros(program.form.columns)
    columns[: program.size] = program.catalogue.find("cost").numerator
    return columns


def spread_of(brief: Brief, program: Program) -> float:
    """Return how far behind the best by the aim a formula may be that a tie-break prefers [aim]."""
    return brief.aim.tie if brief.aim.then else 0.0 if cost_of(program) is None else ROUNDING


def count_of(program: Program) -> Floats:
    """Return how often each column counts as an ingredient, shape (columns,)."""
    columns = np.zeros(program.form.columns)
    for choices in program.uses:
        columns[choices] += 1.0
    return columns


@contextmanager
def equals(session: Session, aim: Objective, then: Sequence[Objective], values: Floats) -> Iterator[None]:
    """Hold a session, for a while, at what is as good as a solution by the aim and the tie-breaks."""
    with session.trial():
        rows = [(aim, ROUNDING)]
        rows += [(one, EQUAL * max(1.0, abs(value_of(*one, values)))) for one in then]
        for objective, room in rows:
            row = within(*objective, value_of(*objective, values) + room)
            if len(row.indices):
                session.add_row(row)
        yield


def settled(
    program: Program,
    part: Program | Part,
    ranking: Iterator[Candidate | Outcome],
    then: Sequence[Objective] = (),
    clock: Clock = NO_LIMIT,
    edge: Callable[[], float] = no_edge,
    listed: Sequence[Candidate] = (),
) -> Iterator[Candidate | Outcome]:
    """Yield a ranking in which, among equals, the cheaper and then the shorter formula comes first.

    Parameters
    ----------
    program : Program
    part : Program or Part
        What was ranked: every formula that is worth listing lies in it.
    ranking : iterator
        What `rank` yields, in the program's columns; its aims stay as they are.
    then : sequence of (objective, denominator)
        The brief's own tie-breaks, over the program's columns: they come first.
    edge : callable
        The aim from which on nothing is looked for, as in `rank`.
    listed : sequence of Candidate
        The ranking, where it is known before: a structure that no other comes near has no equal but its own formulas.

    Notes
    -----
    At place k some structure that was not listed yet is as good as the k-th of the ranking, so the best of these by
    cost and count is listed; the aims of the list are those of the ranking.
    """
    ground: _Ground | None = None
    for place, item in enumerate(ranking):
        if not isinstance(item, Candidate) or not item.proven:
            yield item
            continue
        if item.best >= edge():
            return
        ground = ground or _Ground(program, part, then, clock)
        alone = place + 1 < len(listed) and _apart(item.objective, listed[place + 1].objective)
        yield replace(item, values=ground.best_equal(item.values, alone=alone))


def _apart(aim: float, other: float) -> bool:
    """Tell whether what has another aim is certainly no equal."""
    return other > aim + EQUAL * max(1.0, abs(aim))


class _Ground:
    """A live session that holds what was ranked, without the structures that were listed."""

    def __init__(
        self,
        program: Program,
        part: Program | Part,
        then: Sequence[Objective],
        clock: Clock,
    ) -> None:
        self.program, self.part = program, part
        every = np.arange(program.form.columns, dtype=np.intp)
        self.columns = here = part.columns if isinstance(part, Part) else every
        self.session = Session(part.form, clock=clock, arrays=True)
        self.aim = (part.form.objective, part.ratio_aim)
        self.then = [(top[here], None if base is None else base[here]) for top, base in then]
        cost = cost_of(program)
        self.cost = None if cost is None else cost[here]
        self.count = count_of(program)[here]
        self.counted = any(np.array_equal(top, self.count) for top, _ in self.then)
        self.kept_out = 0

    def best_equal(self, values: Floats, *, alone: bool) -> Floats:
        """Return the cheapest, then shortest formula that is as good as a solution; its structure is kept out then.

        Where it is `alone` no other structure is as good.
        """
        here = values[self.columns]
        with equals(self.session, self.aim, self.then, here):
            if alone:
                self.session.hold_columns(self.part.structure, np.round(here[self.part.structure]))
            if self.cost is not None:
                here = self._rounded(best(self.session, self.cost), here)
            if not self.counted:
                here = self._shortest(here, easy=alone or not self.kept_out)
        if len(self.part.structure):
            self.session.add_row(another_structure(self.part, here))
            self.kept_out += 1
        return self.part.full(here) if isinstance(self.part, Part) else here

    def _shortest(self, here: Floats, *, easy: bool) -> Floats:
        """Return the solution with the fewest ingredients among those that cost the same."""
        objective = self.aim[0] if self.cost is None else self.cost
        reached = float(objective @ here)
        with self.session.trial():
            if len(self.columns) > WIDE:
                for column in np.flatnonzero((self.count > 0) & (here < 0.5)).tolist():
                    self.session.set_column_bounds(column, 0.0, 0.0)
            known = Outcome("solved", reached, reached, here)
            proven = ProvenCounts(easy=easy)
            found = fewest(self.session, objective, self.count, ROUNDING, [known], proven)
        return self._rounded(found, here)

    def _rounded(self, outcome: Outcome, here: Floats) -> Floats:
        """Return a solution with whole choices; the one that is known where the solver has none to offer."""
        if outcome.values is None or outcome.status != "solved":
            return here
        whole = self.part.form.integer
        return np.where(whole, np.round(outcome.values), outcome.values)
