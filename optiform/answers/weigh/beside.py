"""What stands beside the steps in a program on a grid: norms of the amounts, and shares of trials in a mixture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.answers.weigh.grid import Grid, Items
from optiform.program import Norm, Reduced
from optiform.vectors import Floats


@dataclass(frozen=True, eq=False)
class Beside:
    """Continuous columns that follow from the amounts.

    Attributes
    ----------
    matrix : ndarray, shape (rows of the reduced program, columns)
    lower, upper : ndarray, shape (columns,)
    norms : tuple of (int, ndarray)
        Which column is a norm, and its factor over the items, shape (r, k).
    """

    matrix: Floats = field(repr=False)
    lower: Floats
    upper: Floats
    norms: tuple[tuple[int, Floats], ...] = field(repr=False)

    @classmethod
    def of(cls, reduced: Reduced, items: Items) -> Beside:
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
        for number, norm in enumerate(program.form.norms):
            factor = np.zeros((len(norm.factor), program.size))
            factor[:, norm.indices] = norm.factor
            norms.append((number, items.spread(factor)))
        return cls(matrix, form.lower[here], form.upper[here], tuple(norms))

    def in_steps(self, grid: Grid, start: Floats, first: int) -> tuple[Norm, ...]:
        """Return the norms over steps away from a start, then a column that is 1, all in the unit of one step.

        Parameters
        ----------
        start : ndarray of int, shape (k,)
        first : int
            The form's column of the first of these; the one that is 1 follows the last.
        """
        one = first + len(self.lower)
        steps = np.append(np.arange(len(start)), one).astype(np.intp)
        return tuple(
            Norm(first + number, steps, np.column_stack([factor, factor @ start]))
            for number, factor in self.norms
        )
