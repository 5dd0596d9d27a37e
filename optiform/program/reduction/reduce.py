"""Reduces a program to the small continuous one that is left once every choice is fixed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optiform.measures import Measure
from optiform.program.program import Form, Program, SparseRow
from optiform.vectors import Floats, Indices


@dataclass(frozen=True, eq=False)
class Reduced:
    """A program with its choices fixed: only the amounts that are still free, and the rows that see them.

    Attributes
    ----------
    fixed : ndarray, shape (columns of the program,)
        The value at which each column is held where it is not free.
    free : ndarray of int
        Columns of the program that are still free; column j here is ``free[j]`` there.
    rows : ndarray of int
        Rows of the program that are left; row r here is ``rows[r]`` there.
    """

    program: Program = field(repr=False)
    fixed: Floats = field(repr=False)
    free: Indices = field(repr=False)
    rows: Indices = field(repr=False)
    form: Form = field(repr=False)
    slack: float = 0.0

    @cached_property
    def position(self) -> Indices:
        """Return the column here of each column there, or -1."""
        position = np.full(len(self.fixed), -1, dtype=np.intp)
        position[self.free] = np.arange(len(self.free))
        return position

    @cached_property
    def row_position(self) -> dict[int, int]:
        """Return the row here of each row there that is left."""
        return {int(row): here for here, row in enumerate(self.rows)}

    @property
    def ratio_aim(self) -> Floats | None:
        """Return the denominator of an aim that is a ratio, over the columns here; None for a total."""
        whole = self.program.ratio_aim
        return None if whole is None else whole[self.free]

    def ratio(self, measure: Measure, sign: float = 1.0) -> tuple[Floats, Floats | None]:
        """Return `sign` times the numerator of a measure over the columns here, and its denominator if it has one."""

        def here(over_materials: Floats) -> Floats:
            found = np.zeros(len(self.free))
            amounts = self.free < self.program.size
            found[amounts] = over_materials[self.free[amounts]]
            return found

        below = None if measure.denominator is None else here(measure.denominator)
        return sign * here(measure.numerator), below

    def row(self, row: SparseRow) -> SparseRow:
        """Return a row of the program as it reads here."""
        here = self.position[row.indices]
        stays = here >= 0
        constant = float(row.values[~stays] @ self.fixed[row.indices[~stays]])
        return SparseRow(here[stays], row.values[stays], row.lower - constant, row.upper - constant)

    def moved(self, requirement: int, bound: float) -> Iterator[tuple[int, SparseRow]]:
        """Yield the rows that a requirement has here at another bound, each with its position."""
        for row, move in self.program.moves[requirement]:
            if row in self.row_position:
                yield self.row_position[row], self.row(move.row(bound, self.slack))

    def full(self, values: Floats) -> Floats:
        """Return all columns of the program from the free ones."""
        whole = self.fixed.copy()
        whole[self.free] = values
        return whole


def reduce(program: Program, values: Floats, slack: float = 0.0) -> Reduced:
    """Fix every choice of a program at its rounded value.

    Amounts whose choice is "no" are held at 0; all other amounts stay free.

    Parameters
    ----------
    values : ndarray, shape (columns,)
        A solution whose choices are to be kept.
    slack : float
        How far bounds on measures are relaxed, in their own units; 0 holds them exactly.
    """
    form = program.form
    fixed = np.zeros(form.columns)
    fixed[form.integer] = np.round(values[form.integer])
    for helper in program.helpers:
        fixed[helper.column] = helper.value(fixed)
    own = program.own_choice
    free = np.where(own >= 0, fixed[own] > 0, True)
    for index in program.shared:
        free[index] = fixed[program.uses[index]].sum() > 0
    held = [*(wish.columns for wish in program.preferences), *(hull.columns for hull in program.hulls)]
    others = np.sort(np.concatenate([*held, [norm.column for norm in form.norms]]))
    columns = np.concatenate([np.flatnonzero(free), others]).astype(np.intp)
    position = np.full(form.columns, -1, dtype=np.intp)
    position[columns] = np.arange(len(columns))
    here = position[form.indices]
    stays = here >= 0
    constant = np.bincount(
        form.owner, weights=np.where(stays, 0.0, form.values * fixed[form.indices]), minlength=form.rows
    )
    counts = np.bincount(form.owner[stays], minlength=form.rows)
    rows = np.flatnonzero(counts)
    reduced = Form(
        lower=form.lower[columns],
        upper=form.upper[columns],
        integer=np.zeros(len(columns), dtype=bool),
        objective=form.objective[columns],
        starts=np.concatenate([[0], np.cumsum(counts[rows])]).astype(np.intp),
        indices=here[stays],
        values=form.values[stays],
        row_lower=(_without_slices(program) - constant)[rows],
        row_upper=(form.row_upper - constant)[rows],
        norms=tuple(norm.at(position) for norm in form.norms),
    )
    loose = Reduced(program, fixed, columns, rows, reduced, slack)
    return replace(loose, form=_tightened(loose))


def _without_slices(program: Program) -> Floats:
    """Return the lower ends of all rows, open where one only tells the slice that a mean's base lies in."""
    lower = program.form.row_lower.copy()
    lower[[wish.base_row for wish in program.preferences if wish.base_row >= 0]] = -np.inf
    return lower


def _tightened(reduced: Reduced) -> Form:
    """Return the form with every bound on a measure at the slack that was asked for."""
    form = reduced.form
    values, lower, upper = form.values.copy(), form.row_lower.copy(), form.row_upper.copy()
    for row, content in _bounded(reduced):
        span = slice(form.starts[row], form.starts[row + 1])
        if len(content.indices) == span.stop - span.start:
            values[span] = content.values
            lower[row], upper[row] = content.lower, content.upper
    return replace(form, values=values, row_lower=lower, row_upper=upper)


def _bounded(reduced: Reduced) -> Iterator[tuple[int, SparseRow]]:
    """Yield the rows that a bound stands behind, each at that bound: limits, and ends of pH windows."""
    program = reduced.program
    asked = set(program.row_requirement[reduced.rows].tolist())
    for requirement in program.moves.stated.keys() & asked:
        bound = program.requirements[requirement].bound
        if bound is not None:
            yield from reduced.moved(requirement, bound)
    for acid in program.acid_rows:
        if acid.asked and acid.row in reduced.row_position:
            yield reduced.row_position[acid.row], reduced.row(acid.move.row(acid.bound, reduced.slack))
