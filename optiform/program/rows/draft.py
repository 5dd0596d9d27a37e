"""Gathers the columns, rows and requirements of a program while it is written."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.bounds import decimals_between
from optiform.faults import Faults
from optiform.library.selection import named
from optiform.measures.acidity import BufferCapacity
from optiform.measures.learned import Learned
from optiform.program.program import USED, AcidRow, Helper, Move, SparseRow
from optiform.program.requirement import Key, Requirement, count_title, limit_title
from optiform.program.rows.certainty_rows import follows
from optiform.program.rows.levels import Requirements, UseLevels
from optiform.program.rows.moves import CountMove, MeasureMove, WhenMove
from optiform.program.rows.row_list import RowBlock, RowList, summed
from optiform.program.structure import Structure
from optiform.vectors import distinct

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from optiform.brief.models import Brief
    from optiform.library.models import Library
    from optiform.measures import Catalogue, Measure, Side
    from optiform.program.hull import Hull
    from optiform.program.norm import Norm
    from optiform.program.program import SleepingEnd, UpperEnds
    from optiform.program.rows.certainty_rows import Lots
    from optiform.program.rows.preferences import Preference
    from optiform.vectors import Flags, Floats, Indices


NONE: Indices = np.zeros(0, dtype=np.intp)


PROTECTING = ("preservative", "chelator")
"""Functions of materials that keep a wash from spoiling."""


def sides(at_least: float | None, at_most: float | None) -> Iterator[tuple[Side, float]]:
    """Yield the ends of a window that are stated."""
    if at_least is not None:
        yield "at_least", at_least
    if at_most is not None:
        yield "at_most", at_most


def protects(library: Library, materials: Flags) -> bool:
    """Tell whether all flagged materials, shape (n,), protect: a least amount of them is never for sale."""
    arrays = library.arrays
    protecting = np.logical_or.reduce([arrays.has_function(word) for word in PROTECTING])
    return bool(materials.any() and not (materials & ~protecting).any())


@dataclass
class Draft:
    """Gathers the columns, rows and requirements of one program."""

    brief: Brief
    catalogue: Catalogue
    open_pH: bool = False
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    integer: list[bool] = field(default_factory=list)
    rows: RowList = field(default_factory=RowList)
    row_requirement: list[int] = field(default_factory=list)
    requirements: Requirements = field(default_factory=Requirements)
    levels: list[UseLevels] = field(default_factory=list)
    moves: dict[int, list[tuple[int, Move]]] = field(default_factory=dict)
    uses: dict[int, Indices] = field(default_factory=dict)
    systems: dict[str, int] = field(default_factory=dict)
    helpers: list[Helper] = field(default_factory=list)
    gates: dict[tuple[Side, float], list[tuple[int, Indices]]] = field(default_factory=dict)
    acid_rows: list[AcidRow] = field(default_factory=list)
    asleep: list[SleepingEnd] = field(default_factory=list)
    upper_ends: dict[str, UpperEnds] = field(default_factory=dict)
    followers: list[tuple[Key, int, Move]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    faults: Faults = field(default_factory=Faults)
    preferences: list[Preference] = field(default_factory=list)
    structure: Structure = field(default_factory=Structure)
    lots: Lots | None = None
    probing: bool = False
    norms: list[Norm] = field(default_factory=list)
    hulls: list[Hull] = field(default_factory=list)
    seen: dict[tuple[Key, str, str], list[Measure]] = field(default_factory=dict)
    forbidden: set[int] = field(default_factory=set)
    _keys: dict[Key, int] = field(default_factory=dict)
    _helper_of: dict[tuple[tuple[int, ...], tuple[int, ...]], Indices] = field(default_factory=dict)

    @property
    def library(self) -> Library:
        """Return the library that the program draws on."""
        return self.brief.library

    def position(self, material: str) -> int:
        """Return the column of a material's amount."""
        return self.library.arrays.material_index[material]

    # columns

    def column(self, lower: float = 0.0, upper: float = 1.0, *, integer: bool = True) -> int:
        """Add a column and return its position."""
        self.lower.append(lower)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.lower) - 1

    def add_amounts(self, upper: Floats) -> None:
        """Add the columns of all amounts, shape (n,)."""
        self.lower.extend([0.0] * len(upper))
        self.upper.extend(upper.tolist())
        self.integer.extend([False] * len(upper))

    def used(self, index: int) -> Indices:
        """Return the choice columns that add up to "this material is used", made on first need."""
        if index not in self.uses:
            self.add_choices([index])
        return self.uses[index]

    def all_used(self, indices: Sequence[int]) -> list[Indices]:
        """Return the choice columns of several materials; those that lack them get them in one block."""
        self.add_choices([index for index in dict.fromkeys(indices) if index not in self.uses])
        return [self.uses[index] for index in indices]

    def add_choices(self, indices: Sequence[int]) -> None:
        """Tie materials to yes-or-no columns: an amount is 0 or within the supplier's use range."""
        if not len(indices):
            return
        places = np.array(indices, dtype=np.intp)
        count = len(places)
        choices = np.arange(len(self.lower), len(self.lower) + count, dtype=np.intp)
        self.lower.extend([0.0] * count)
        self.upper.extend([1.0] * count)
        self.integer.extend([True] * count)
        for place, index in enumerate(places.tolist()):
            self.uses[index] = choices[place : place + 1]
        arrays = self.library.arrays
        ends = np.column_stack([np.maximum(arrays.min_if_used[places], USED), arrays.max_use[places]])
        rows = RowBlock.alike(
            np.repeat(np.column_stack([places, choices]), 2, axis=0),
            np.column_stack([np.ones(2 * count), -ends.ravel()]),
            lower=np.tile([0.0, -np.inf], count),
            upper=np.tile([np.inf, 0.0], count),
        )
        first = len(self.requirements)
        levels = UseLevels(self.library, places, choices, first, len(self.rows))
        self.requirements.extend(levels)
        self.levels.append(levels)
        self.rows.extend(rows)
        self.row_requirement.extend(levels.span)

    def any_of(self, indices: Sequence[int], unless: Sequence[int] = ()) -> Indices:
        """Return columns that add up to at least 1 when any of the materials is used, and to at most 1.

        One material: its own choice. Several: one helper column that is the largest of them. While any
        of the materials `unless` is used, the columns may add up to nothing.
        """
        if len(indices) == 1 and not unless:
            return self.used(indices[0])
        key = (tuple(sorted(indices)), tuple(sorted(unless)))
        if key not in self._helper_of:
            helper = self.column(integer=False)
            link = self.require_own(Key("group", (helper,)), "a group is used when a member is")
            members = self.all_used(key[0])
            asleep = distinct(np.concatenate([NONE, *self.all_used(key[1])]))
            self.link(link, helper, members, asleep)
            self._helper_of[key] = np.array([helper], dtype=np.intp)
            self.helpers.append(Helper(helper, distinct(np.concatenate(members)), asleep))
        return self._helper_of[key]

    def link(
        self,
        requirement: int | Sequence[int],
        helper: int,
        members: Sequence[Indices],
        unless: Indices = NONE,
    ) -> None:
        """Add helper >= choice for each member, less what lets it sleep; for one requirement or for one each."""
        owners = [requirement] * len(members) if isinstance(requirement, int) else requirement
        plain = not len(unless)
        single = [place for place, choice in enumerate(members) if plain and len(choice) == 1]
        self.add_alike(
            [owners[place] for place in single],
            [(int(members[place][0]), helper) for place in single],
            (-1.0, 1.0),
            lower=0.0,
        )
        for owner, choice in zip(owners, members, strict=True):
            if not plain or len(choice) > 1:
                columns = [helper, *unless, *choice]
                values = [1.0] * (1 + len(unless)) + [-1.0] * len(choice)
                self.add_row(owner, columns, values, lower=0.0)

    # rows

    def require(self, requirement: Requirement) -> int:
        """Add a requirement and return its position; the same key twice is one requirement."""
        if requirement.key not in self._keys:
            self._keys[requirement.key] = len(self.requirements)
            self.requirements.append(requirement)
        return self._keys[requirement.key]

    def require_own(self, key: Key, title: str) -> int:
        """Add a requirement that the program makes of itself: nobody asks for it, and it never moves."""
        return self.require(Requirement(key=key, title=title, origin="balance", movable=False))

    def leave_out(self, key: Key, indices: Iterable[int], title: str, why: str, note: str) -> None:
        """Keep materials out because their data lack; title and note end with their names."""
        places = [int(index) for index in indices]
        names = tuple(self.library.materials[index].id for index in places)
        requirement = self.require(
            Requirement(
                key=key,
                title=f"{title}: {', '.join(names)}",
                origin="library",
                movable=False,
                choice=True,
                subject=names,
                why=why,
            )
        )
        self.forbid(requirement, places)
        self.notes.append(f"{note}: {', '.join(names)}.")

    def place_of(self, key: Key) -> int:
        """Return the position of a requirement by its key."""
        return self._keys[key]

    def add(self, requirement: int, row: SparseRow) -> int:
        """Add a row that belongs to a requirement and return its position."""
        self.row_requirement.append(requirement)
        return self.rows.add(row)

    def add_alike(
        self,
        requirement: int | Sequence[int],
        columns: Sequence[tuple[int, ...]],
        values: tuple[float, ...],
        *,
        lower: float = -np.inf,
        upper: float = np.inf,
    ) -> None:
        """Add rows with the same values in other columns, for one requirement or for one each.

        The columns of a row are all different.
        """
        if not len(columns):
            return
        indices = np.array(columns, dtype=np.intp)
        order = np.argsort(indices, axis=1, kind="stable")
        block = RowBlock.alike(
            np.take_along_axis(indices, order, axis=1),
            np.asarray(values, dtype=float)[order],
            lower=lower,
            upper=upper,
        )
        owners = [requirement] * len(indices) if isinstance(requirement, int) else requirement
        self.row_requirement.extend(owners)
        self.rows.extend(block)

    def add_row(
        self,
        requirement: int,
        indices: Iterable[int],
        values: Iterable[float],
        *,
        lower: float = -np.inf,
        upper: float = np.inf,
    ) -> int:
        """Add a row given as plain lists; equal columns are summed."""
        columns, sums = summed(np.fromiter(indices, dtype=np.intp), np.fromiter(values, dtype=float))
        return self.add(requirement, SparseRow(columns, sums, lower, upper))

    def move(self, requirement: int, move: Move, bound: float) -> int:
        """Add the row of a bound that can move later."""
        if isinstance(move, MeasureMove):
            move = replace(move, measure=self.bounded(requirement, move.side, move.measure))
        row = self.add(requirement, move.row(bound))
        self.moves.setdefault(requirement, []).append((row, move))
        self._depends_on_strength(requirement, row, move, bound)
        return row

    def _depends_on_strength(self, requirement: int, row: int, move: Move, bound: float) -> None:
        """Note a row of buffer capacity: like a row of charge it is taken at an ionic strength."""
        if isinstance(move, (MeasureMove, WhenMove)) and isinstance(move.measure, BufferCapacity):
            asked = ((requirement, move.choices),) if isinstance(move, WhenMove) else ()
            self.acid_rows.append(AcidRow(row, move, bound, asked))

    def bounded(self, requirement: int, side: Side, measure: Measure) -> Measure:
        """Return a measure as a requirement bounds it: for every lot, where the brief asks for that."""
        asked = self.requirements[requirement]
        before = self.seen.setdefault((asked.key, side, measure.name), [])
        before.append(measure)
        if self.lots is None or isinstance(measure, Learned):
            return measure  # what was learned is of the lots as they were weighed
        if asked.side == "equal" and follows(self, asked.key, measure):
            return measure
        return self.lots.certain(asked.key, side, len(before) - 1, measure)

    def limit(
        self, key: Key, measure: Measure, at_least: float | None, at_most: float | None, **more: object
    ) -> None:
        """Add the requirements and rows of a window on a measure."""
        for requirement, side, bound in self.ends(key, measure, at_least, at_most, **more):
            self.move(requirement, MeasureMove(measure, side), bound)

    def ends(
        self, key: Key, measure: Measure, at_least: float | None, at_most: float | None, **more: object
    ) -> Iterator[tuple[int, Side, float]]:
        """Add the requirements of a window on a measure; yield the requirement, side and bound of each row."""
        label = str(more.pop("label", named(measure.name)))
        exactly = at_least is not None and at_least == at_most
        more["decimals"] = decimals_between(at_least, at_most, measure.bound_decimals)
        for side, bound in sides(at_least, at_most):
            kind = "equal" if exactly else side
            yield self._limit_requirement(key, label, kind, bound, measure, more), side, bound

    def _limit_requirement(
        self, key: Key, label: str, side: str, bound: float, measure: Measure, more: dict[str, object]
    ) -> int:
        fields: dict[str, object] = {"origin": "brief", "measure": measure.name, **more}
        if side != "at_most" and protects(self.library, measure.numerator != 0):
            fields["movable"] = False
        return self.require(
            Requirement(
                key=key.end(side),
                title=limit_title(label, side, bound, str(more.get("tail", measure.unit)), more["decimals"]),  # type: ignore[arg-type]
                side=side,  # type: ignore[arg-type]
                bound=bound,
                unit=measure.unit,
                label=label,
                **fields,  # type: ignore[arg-type]
            )
        )

    def count_requirement(self, key: Key, what: str, side: Side, bound: float, **more: object) -> int:
        """Add the requirement of a bound on how many of some materials there are: "at least 1 thickener"."""
        fields = {
            "title": count_title(side, bound, what),
            "measure": f"number of {what}",
            "tail": what,
            **more,
        }
        return self.require(
            Requirement(
                key=key,
                origin="brief",
                side=side,
                bound=bound,
                unit="materials",
                choice=True,
                **fields,  # type: ignore[arg-type]
            )
        )

    def count(self, requirement: int, columns: Iterable[int], side: Side, bound: float) -> None:
        """Add a bound on how many choice columns are taken."""
        indices, times = np.unique(np.fromiter(columns, dtype=np.intp), return_counts=True)
        self.move(requirement, CountMove(indices, times.astype(float), side), bound)

    def forbid(self, requirement: int, indices: Iterable[int]) -> None:
        """Keep materials out: their amounts and choices add up to nothing."""
        columns: list[tuple[int]] = []
        for index in indices:
            columns.append((int(index),))
            self.forbidden.add(int(index))
            if index in self.uses and len(self.uses[index]) == 1:
                columns.append((int(self.uses[index][0]),))
        self.add_alike(requirement, columns, (1.0,), upper=0.0)

    def when(
        self,
        requirement: int,
        choices: Indices,
        measure: Measure,
        side: Side,
        bound: float,
        absent: Sequence[int] = (),
    ) -> int | None:
        """Add a bound on a measure that holds only when a choice is taken; None if it could never bite.

        `absent` are the materials that no formula holds unless the choice is taken. The bound moves
        with the requirement where that has a bound of its own.
        """
        measure = self.bounded(requirement, side, measure)
        move = WhenMove(measure, side, choices, self.library.arrays.max_use, absent)
        if not move.bites(bound):
            return None
        if self.requirements[requirement].bound is not None:
            return self.move(requirement, move, bound)
        return self.add(requirement, move.row(bound))
