"""Gathers the columns of a program on a grid that follow from its amounts: norms, squares, shares of trials."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.weigh.grid import Grid, Items
from optiform.program import Norm, Reduced, Square
from optiform.vectors import Floats, Indices


@dataclass(frozen=True, eq=False)
class DependentColumns:
    """Continuous columns that follow from the amounts.

    Attributes
    ----------
    matrix : ndarray, shape (rows of the reduced program, columns)
    lower, upper : ndarray, shape (columns,)
    norms : tuple of (Norm, ndarray)
        Each in order of the columns, and its factor over the items, shape (r, k).
    places : ndarray of int, shape (columns of the program,)
        Which column here a column of the program is; -1 for others.
    """

    matrix: Floats = field(repr=False)
    lower: Floats
    upper: Floats
    norms: tuple[tuple[Norm, Floats], ...] = field(repr=False)
    places: Indices = field(repr=False)

    @classmethod
    def of(cls, reduced: Reduced, items: Items) -> DependentColumns:
        """Gather the columns of a reduced program that are neither amounts nor choices nor shortfalls."""
        form, program = reduced.form, reduced.program
        shares = [column for hull in program.hulls for column in hull.columns.tolist()]
        columns = np.array([norm.column for norm in program.form.norms] + shares, dtype=np.intp)
        here = reduced.position[columns]
        place = np.full(form.columns, -1, dtype=np.intp)
        place[here] = np.arange(len(columns))
        matrix = np.zeros((form.rows, len(columns)))
        held = place[form.indices] >= 0
        matrix[form.owner[held], place[form.indices[held]]] = form.values[held]
        norms = []
        for norm in program.form.norms:
            factor, amounts = np.zeros((len(norm.factor), program.size)), norm.indices < program.size
            factor[:, norm.indices[amounts]] = norm.factor[:, amounts]
            norms.append((norm, items.spread(factor)))
        places = np.full(program.form.columns, -1, dtype=np.intp)
        places[columns] = np.arange(len(columns))
        return cls(matrix, form.lower[here], form.upper[here], tuple(norms), places)

    def in_steps(self, grid: Grid, start: Floats, first: int) -> tuple[Norm, ...]:
        """Return the norms over steps away from a start, then a column that is 1, all in the unit of one step.

        Parameters
        ----------
        start : ndarray of int, shape (k,)
        first : int
            The form's column of the first of these; the one that is 1 follows the last.
        """
        one = first + len(self.lower)
        found = []
        for norm, factor in self.norms:
            beside = self.places[norm.indices]
            columns = np.concatenate([np.arange(len(start)), [one], first + beside[beside >= 0]])
            whole = np.column_stack([factor, factor @ start, norm.factor[:, beside >= 0]])
            if isinstance(norm, Square):
                # So many steps, squared, are that many times one step of its own column.
                whole = whole * np.sqrt(grid.step)
            column = first + int(self.places[norm.column])
            found.append(replace(norm, column=column, indices=columns.astype(np.intp), factor=whole))
        return tuple(found)
