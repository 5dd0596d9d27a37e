"""Searches for structures that were not found before."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.program import Program, SparseRow
from optiform.program.reduction.bounding import relaxation
from optiform.program.reduction.part import Part
from optiform.search.ranking import Candidate, another_structure
from optiform.solver import Clock, OutOfTime, Session
from optiform.tolerances import CLEAR
from optiform.vectors import Floats, Indices, distinct


@dataclass(frozen=True, eq=False)
class Search:
    """Looks for structures that were not found before.

    Attributes
    ----------
    columns : ndarray of int
        The program's columns that the session holds.
    exact : bool
        Whether every choice is whole; else only those that make two formulas different, and what is found
        may be worse than it looks.
    out : list of SparseRow
        What keeps the structures out that were found before.
    """

    program: Program = field(repr=False)
    session: Session = field(repr=False)
    columns: Indices = field(repr=False)
    exact: bool
    out: list[SparseRow] = field(default_factory=list, repr=False)

    @classmethod
    def relaxed(cls, program: Program, clock: Clock) -> Search:
        """Search among mixtures, in which only what makes two formulas different is whole."""
        systems = np.array(list(program.systems.values()), dtype=np.intp)
        whole = distinct(np.concatenate([program.structure, systems]))
        eased = relaxation(program, program.form.objective, whole)
        return cls(program, Session(eased.form, clock=clock), eased.columns, exact=False)

    def in_full(self, part: Part, clock: Clock) -> Search:
        """Search among formulas, where too many mixtures look good; what was found stays out."""
        session = Session(part.form, clock=clock, arrays=True)
        session.set_objective(part.form.objective)
        search = Search(self.program, session, part.columns, exact=True)
        for row in self.out:
            search.add(row)
        return search

    def keep_out(self, values: Floats) -> None:
        """Keep out the structure of a solution, given in the program's columns."""
        self.add(another_structure(self.program, values))

    def add(self, row: SparseRow) -> None:
        """Keep out what a row over the program's columns keeps out; a choice that is not held counts as not taken."""
        self.out.append(row)
        place = np.full(self.program.form.columns, -1, dtype=np.intp)
        place[self.columns] = np.arange(len(self.columns))
        here = place[row.indices]
        self.session.add_row(SparseRow(here[here >= 0], row.values[here >= 0], row.lower, row.upper))

    def below(self, ceiling: float) -> Candidate | None:
        """Return the best that is left under a ceiling, in the program's columns; None where nothing is.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        outcome = self.session.below(ceiling - CLEAR * max(1.0, abs(ceiling)))
        if outcome.status == "stopped":
            raise OutOfTime
        if outcome.values is None:
            return None
        values = np.zeros(self.program.form.columns)
        values[self.columns] = outcome.values
        return Candidate(values, outcome.objective, True, outcome.bound)
