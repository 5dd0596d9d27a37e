"""A brief and a library as one program in array form; no solver here."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np

from optiform.tolerances import HALF

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.library.models import Library
    from optiform.measures import Catalogue, Measure, Side
    from optiform.program.hull import Hull
    from optiform.program.norm import Norm
    from optiform.program.requirement import Key
    from optiform.program.rows.levels import Moves, Requirements
    from optiform.program.rows.preferences import Preference
    from optiform.vectors import Flags, Floats, Indices

USED = 0.001
"""The least amount that counts as used, % w/w, where a material states none."""


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

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at another bound, relaxed by `slack` in the unit of the bound."""

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound) at a formula."""


class AcidMove(Move, Protocol):
    """How a row follows its bound that is another at another ionic strength."""

    @property
    def measure(self) -> Measure:
        """Return what is bounded."""

    def at_strength(self, ionic_strength: float) -> AcidMove:
        """Return the same move at another ionic strength."""


@dataclass(frozen=True, eq=False)
class AcidRow:
    """A row that depends on the ionic strength: charge at one end of a pH window, or uncharged acid at one pH.

    Attributes
    ----------
    move : AcidMove
        As at the ionic strength of the program.
    bound : float
        In the unit of what is bounded.
    asked : tuple of (int, ndarray of int)
        Which requirements need it, each while its choices are taken; empty for a row that always holds.
    """

    row: int
    move: AcidMove = field(repr=False)
    bound: float
    asked: tuple[tuple[int, Indices], ...] = field(default=(), repr=False)

    @property
    def side(self) -> Side:
        """Return the side from which the row bounds."""
        return self.move.side

    def owners(self, values: Floats) -> tuple[int, ...]:
        """Return the requirements that need the row at these column values."""
        return tuple(key for key, choices in self.asked if values[choices].sum() > 0.5)

    def holds(self, values: Floats) -> bool:
        """Tell whether the row is asked for at these column values."""
        return not self.asked or bool(self.owners(values))


@dataclass(frozen=True, eq=False)
class SleepingEnd:
    """An end of a pH window that has no row because the pH target, as it stands, is narrower.

    Attributes
    ----------
    columns : ndarray of int
        The window is asked for while any of these is above 0.
    """

    side: Side
    bound: float
    columns: Indices = field(repr=False)


@dataclass(frozen=True, eq=False)
class Helper:
    """A column that tells whether any of some choices is taken, none of some others being taken.

    Attributes
    ----------
    members : ndarray of int
        Choice columns, or earlier helpers.
    unless : ndarray of int
        Choice columns that put it to sleep.
    """

    column: int
    members: Indices = field(repr=False)
    unless: Indices = field(repr=False)

    def value(self, values: Floats) -> float:
        """Return 1 where it is needed, else 0."""
        if len(self.unless) and values[self.unless].max() > 0.5:
            return 0.0
        return float(values[self.members].max())


@dataclass(frozen=True, eq=False)
class UpperEnds:
    """The choice of the pH up to which a formula is made, under one preservative system.

    Attributes
    ----------
    system : int
        The column of the system.
    columns : ndarray of int, shape (ends,)
        At least one is taken while the system is.
    ends : ndarray, shape (ends,)
        From the highest pH to the lowest.
    move : AcidMove
        Of a row of charge: the pH is at most an end.
    """

    system: int
    columns: Indices = field(repr=False)
    ends: Floats = field(repr=False)
    move: AcidMove = field(repr=False)

    def keeps(self, place: int, values: Floats) -> bool:
        """Tell whether the amounts among column values keep the pH at or below an end."""
        row = self.move.row(float(self.ends[place]))
        return bool(row.values @ values[row.indices] <= row.upper)


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
    norms : tuple of Norm
        Columns that are at least a norm of others; with them it is a mixed-integer second-order cone program.
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
    norms: tuple[Norm, ...] = ()

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
    row_requirement : ndarray of int, shape (rows,)
        Which requirement a row belongs to.
    moves : dict
        Per requirement with a bound that can move: (row, how it follows the bound) pairs.
    uses : tuple of ndarray of int
        Per material the choice columns that add up to "it is used"; empty where there are none.
    systems : dict of str to int
        The column of each preservative system.
    helpers : tuple of Helper
        Columns that follow from choices, each after those that it follows from.
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
    asleep : tuple of SleepingEnd
        What a wider pH target would wake.
    hulls : tuple of Hull
        Columns that are the shares in which trials mix to a formula.
    upper_ends : tuple of UpperEnds
        Where the brief states no upper end of the pH and uncharged acid is asked for.
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
    helpers: tuple[Helper, ...] = field(repr=False)
    structure: Indices = field(repr=False)
    serving: Mapping[int, tuple[str, ...]] = field(repr=False)
    grades: Mapping[int, tuple[int, ...]] = field(repr=False)
    ratio_aim: Floats | None = field(default=None, repr=False)
    acid_rows: tuple[AcidRow, ...] = field(default=(), repr=False)
    preferences: tuple[Preference, ...] = field(default=(), repr=False)
    asleep: tuple[SleepingEnd, ...] = field(default=(), repr=False)
    hulls: tuple[Hull, ...] = field(default=(), repr=False)
    upper_ends: tuple[UpperEnds, ...] = field(default=(), repr=False)
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
        for helper in self.helpers:
            telling[helper.members] |= telling[helper.column]
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
    def index_of(self) -> dict[Key, int]:
        """Return the position of each requirement by its key."""
        return self.requirements.keyed()
