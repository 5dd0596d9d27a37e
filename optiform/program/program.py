"""A brief and a library as one program in array form; no solver here."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from optiform.library.arrays import Flags, Floats
    from optiform.library.models import Library
    from optiform.measures import Catalogue, Measure, Side
    from optiform.program.levels import Moves, Requirements
    from optiform.program.preferences import Preference

    Indices = NDArray[np.intp]

USED = 0.001
"""The least amount that counts as used, % w/w, where a material states none."""

TOLERANCE = 1e-6
"""A requirement met within this much of its own unit is met."""


@dataclass(frozen=True, eq=False)
class SparseRow:
    """One row: lower <= values . columns[indices] <= upper."""

    indices: Indices
    values: Floats
    lower: float
    upper: float


class Move(Protocol):
    """How one row follows the bound of its requirement."""

    @property
    def side(self) -> Side:
        """Return the side from which the row bounds."""

    def row(self, bound: float, slack: float = 0.5 * TOLERANCE) -> SparseRow:
        """Return the row at another bound, relaxed by `slack` in the unit of the bound."""

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound) at a formula."""


@dataclass(frozen=True, eq=False)
class AcidRow:
    """A row of charge at one end of a pH window; with choices, it holds only when they are taken."""

    row: int
    side: Side
    bound: float
    choices: Indices | None = None


@dataclass(frozen=True, eq=False)
class Form:
    """A mixed-integer linear program as plain arrays: what a solver is given.

    Attributes
    ----------
    lower, upper : ndarray, shape (columns,)
    integer : ndarray of bool, shape (columns,)
    objective : ndarray, shape (columns,)
        To be minimised; no constant.
    starts, indices, values : ndarray
        Rows in compressed form: row r holds positions starts[r] to starts[r + 1].
    row_lower, row_upper : ndarray, shape (rows,)
        Either one is infinite, or both are equal.
    """

    lower: Floats
    upper: Floats
    integer: Flags
    objective: Floats
    starts: Indices
    indices: Indices
    values: Floats
    row_lower: Floats
    row_upper: Floats

    @property
    def columns(self) -> int:
        """Return the number of columns."""
        return len(self.lower)

    @property
    def rows(self) -> int:
        """Return the number of rows."""
        return len(self.row_lower)

    def row(self, index: int) -> SparseRow:
        """Return one row."""
        span = slice(self.starts[index], self.starts[index + 1])
        return SparseRow(
            self.indices[span], self.values[span], float(self.row_lower[index]), float(self.row_upper[index])
        )

    @cached_property
    def owner(self) -> Indices:
        """Return the row of each stored value."""
        return np.repeat(np.arange(self.rows, dtype=np.intp), np.diff(self.starts))

    def activity(self, values: Floats) -> Floats:
        """Return the value of every row at given column values, shape (rows,)."""
        sums = np.bincount(self.owner, weights=self.values * values[self.indices], minlength=self.rows)
        return np.asarray(sums, dtype=float)


@dataclass(frozen=True, eq=False)
class Program:
    """A form, and what its columns and rows stand for.

    Columns 0 to n - 1 are the amounts of the library's materials [% w/w]; the others are choices.

    Attributes
    ----------
    form : Form
    row_requirement : ndarray of int, shape (rows,)
        Which requirement a row belongs to.
    moves : dict
        Per requirement with a bound that can move: (row, how it follows the bound) pairs.
    uses : tuple of ndarray of int
        Per material the choice columns that add up to "it is used"; empty where there are none.
    systems : dict of str to int
        The column of each preservative system.
    groups : tuple of (int, ndarray of int)
        Helper columns: each is the largest of the choice columns that follow it.
    structure : ndarray of int
        The columns that make two formulas different: one for each substance with a role, and the systems.
    serving : dict of int to tuple of str
        The substances that a column of the structure stands for.
    grades : dict of int to tuple of int
        For a material that serves by some substances, the others that serve by the same.
    aim, aim_sign
        The measure to be minimised (sign 1) or maximised (-1).
    ratio_aim : ndarray, optional, shape (columns,)
        Denominator of the aim where the aim is a ratio.
    acid_rows : tuple of AcidRow
        The rows that depend on the ionic strength.
    preferences : tuple of Preference
        Soft wishes: their penalties are part of the form's objective.
    """

    library: Library = field(repr=False)
    catalogue: Catalogue = field(repr=False)
    aim: Measure = field(repr=False)
    aim_sign: float
    form: Form = field(repr=False)
    row_requirement: Indices = field(repr=False)
    requirements: Requirements = field(repr=False)
    moves: Moves = field(repr=False)
    uses: tuple[Indices, ...] = field(repr=False)
    systems: dict[str, int] = field(repr=False)
    groups: tuple[tuple[int, Indices], ...] = field(repr=False)
    structure: Indices = field(repr=False)
    serving: Mapping[int, tuple[str, ...]] = field(repr=False)
    grades: Mapping[int, tuple[int, ...]] = field(repr=False)
    ratio_aim: Floats | None = field(default=None, repr=False)
    acid_rows: tuple[AcidRow, ...] = field(default=(), repr=False)
    preferences: tuple[Preference, ...] = field(default=(), repr=False)
    notes: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        """Return the number of materials: the first columns."""
        return len(self.library.materials)

    @cached_property
    def own_choice(self) -> Indices:
        """Return the choice column that belongs to each material alone, or -1, shape (n,)."""
        own = np.full(self.size, -1, dtype=np.intp)
        for levels in self.moves.levels:
            own[levels.materials] = levels.choices
        return own

    @cached_property
    def different(self) -> Flags:
        """Flag the materials whose use makes a formula different, or is a grade of what does, shape (n,)."""
        telling = np.zeros(self.form.columns, dtype=bool)
        telling[self.structure] = True
        for helper, members in self.groups:
            telling[members] |= telling[helper]
        return np.asarray((self.own_choice >= 0) & telling[self.own_choice], dtype=bool)

    @cached_property
    def shared(self) -> tuple[int, ...]:
        """Return the materials whose use is a choice that others share: members of preservative systems."""
        own = self.own_choice
        return tuple(index for index, choices in enumerate(self.uses) if len(choices) and own[index] < 0)

    @cached_property
    def rows_of(self) -> tuple[Indices, ...]:
        """Return the rows of each requirement."""
        order = np.argsort(self.row_requirement, kind="stable")
        cuts = np.searchsorted(self.row_requirement[order], np.arange(len(self.requirements) + 1))
        return tuple(order[cuts[k] : cuts[k + 1]] for k in range(len(self.requirements)))

    @cached_property
    def index_of(self) -> dict[str, int]:
        """Return the position of each requirement by its key."""
        return self.requirements.keyed()
