"""Holds the use levels of many materials; their requirements are made when somebody asks for one.

A library of fifty thousand materials has a hundred thousand use levels, of which an answer mentions a
dozen.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import index
from typing import SupportsIndex, overload

import numpy as np

from optiform.library.models import Library, Material
from optiform.measures import Side
from optiform.program.program import USED, Move
from optiform.program.requirement import Key, Requirement
from optiform.program.rows.moves import UseMove
from optiform.vectors import Indices, among

SIDES: tuple[Side, Side] = ("at_least", "at_most")
FULL = 100.0


@dataclass(frozen=True, eq=False)
class UseLevels:
    """An amount is 0 or within the supplier's use range: two levels for each of some materials.

    Requirements and rows lie side by side: material j of the block has its lower level at
    2 j and its upper level at 2 j + 1 from the first on.

    Attributes
    ----------
    materials, choices : ndarray of int, shape (k,)
        Position of each material, and the yes-or-no column that says whether it is used.
    """

    library: Library = field(repr=False)
    materials: Indices = field(repr=False)
    choices: Indices = field(repr=False)
    first_requirement: int
    first_row: int

    def __len__(self) -> int:
        """Return the number of levels."""
        return 2 * len(self.materials)

    @property
    def span(self) -> range:
        """Return the positions of the requirements."""
        return range(self.first_requirement, self.first_requirement + len(self))

    def keys(self) -> Iterator[Key]:
        """Yield the keys of the requirements, in order."""
        materials = self.library.materials
        for place in self.materials.tolist():
            for side in SIDES:
                yield Key("use", (materials[place].id,), side)

    def requirement(self, position: int) -> Requirement:
        """Return the requirement at a position in the program."""
        place, which = divmod(position - self.first_requirement, 2)
        return use_level(self.library.materials[int(self.materials[place])], SIDES[which])

    def moves(self, position: int) -> tuple[tuple[int, Move], ...]:
        """Return the row of the requirement at a position, and how it follows its bound."""
        offset = position - self.first_requirement
        place, which = divmod(offset, 2)
        move = UseMove(int(self.materials[place]), self.choices[place : place + 1], SIDES[which])
        return ((self.first_row + offset, move),)


def use_level(material: Material, side: Side) -> Requirement:
    """Return one end of a material's use range as a requirement."""
    lower = side == "at_least"
    bound = max(material.min_if_used, USED) if lower else material.max_use
    stated = material.min_if_used > 0 if lower else material.max_use < FULL
    words = "if used, at least" if lower else "at most"
    return Requirement(
        key=Key("use", (material.id,), side),
        title=f"{material.id} {words} {bound:.10g} % w/w",
        origin="library" if stated else "balance",
        measure=f"material:{material.id}",
        side=side,
        bound=bound,
        unit="% w/w",
        label=material.id,
        movable=stated,
        subject=(material.id,),
        why="use range of the material",
        source=material.source,
    )


class Requirements(Sequence[Requirement]):
    """The requirements of a program in order; those of use levels are made on demand."""

    def __init__(self) -> None:
        self._stated: dict[int, Requirement] = {}
        self._levels: list[UseLevels] = []
        self._starts: list[int] = []
        self._size = 0
        self._keyed: dict[Key, int] = {}

    def append(self, requirement: Requirement) -> None:
        """Add one requirement."""
        self._stated[self._size] = requirement
        self._size += 1

    def extend(self, levels: UseLevels) -> None:
        """Add the requirements of a block of use levels."""
        self._levels.append(levels)
        self._starts.append(self._size)
        self._size += len(levels)

    def __len__(self) -> int:
        """Return the number of requirements."""
        return self._size

    @overload
    def __getitem__(self, position: int) -> Requirement: ...
    @overload
    def __getitem__(self, position: slice) -> tuple[Requirement, ...]: ...
    def __getitem__(self, position: int | slice) -> Requirement | tuple[Requirement, ...]:
        """Return one requirement, made and kept on first demand, or several."""
        if isinstance(position, slice):
            return tuple(self[k] for k in range(*position.indices(self._size)))
        place = int(position) + (self._size if position < 0 else 0)
        if not 0 <= place < self._size:
            raise IndexError(position)
        if place not in self._stated:
            levels = self._levels[bisect_right(self._starts, place) - 1]
            self._stated[place] = levels.requirement(place)
        return self._stated[place]

    def changed(self, changes: Mapping[int, Requirement]) -> Requirements:
        """Return requirements of which some are others with the same keys."""
        changed = Requirements()
        changed._stated = {**self._stated, **changes}
        changed._levels, changed._starts, changed._size = self._levels, self._starts, self._size
        changed._keyed = self._keyed
        return changed

    def keyed(self) -> dict[Key, int]:
        """Return the position of each requirement by its key, without making any."""
        if len(self._keyed) < self._size:
            self._keyed = {requirement.key: place for place, requirement in self._stated.items()}
            for levels in self._levels:
                self._keyed.update(zip(levels.keys(), levels.span, strict=True))
        return self._keyed


class Moves(Mapping[int, "tuple[tuple[int, Move], ...]"]):
    """Per requirement with a bound that can move: its rows, and how they follow the bound.

    Attributes
    ----------
    stated : mapping
        The moves of everything but the use levels.
    levels : tuple of UseLevels
    """

    def __init__(
        self, stated: Mapping[int, tuple[tuple[int, Move], ...]], levels: Sequence[UseLevels]
    ) -> None:
        self.stated, self.levels = dict(stated), tuple(levels)
        self._starts = [block.first_requirement for block in self.levels]

    def _block(self, requirement: int) -> UseLevels | None:
        place = bisect_right(self._starts, requirement) - 1
        return self.levels[place] if place >= 0 and requirement in self.levels[place].span else None

    def __getitem__(self, requirement: int) -> tuple[tuple[int, Move], ...]:
        """Return the (row, move) pairs of a requirement."""
        if requirement in self.stated:
            return self.stated[requirement]
        block = self._block(int(requirement))
        if block is None:
            raise KeyError(requirement)
        return block.moves(int(requirement))

    def __contains__(self, requirement: object) -> bool:
        """Tell whether the bound of a requirement can move."""
        if not isinstance(requirement, SupportsIndex):
            return False
        place = index(requirement)
        return place in self.stated or self._block(place) is not None

    def __iter__(self) -> Iterator[int]:
        """Yield the requirements in order."""
        spans = (position for block in self.levels for position in block.span)
        return iter(sorted({*self.stated, *spans}))

    def __len__(self) -> int:
        """Return the number of requirements with a bound that can move."""
        inside = sum(self._block(place) is not None for place in self.stated)
        return len(self.stated) - inside + sum(len(block) for block in self.levels)

    def concerning(self, materials: Collection[int]) -> list[int]:
        """Return, in order, the requirements that a formula of some materials can run into.

        These are all but the use levels of the other materials.
        """
        held = np.fromiter(materials, dtype=np.intp)
        met = set(self.stated)
        for block in self.levels:
            places = np.flatnonzero(among(block.materials, held)) * 2 + block.first_requirement
            met.update(places.tolist(), (places + 1).tolist())
        return sorted(met)

    def changed(self, changes: Mapping[int, tuple[tuple[int, Move], ...]]) -> Moves:
        """Return moves of which some are others."""
        return Moves({**self.stated, **changes}, self.levels)

    def without(self, requirements: Iterable[int]) -> Moves:
        """Return the moves of all other requirements."""
        gone = set(requirements)
        left = {key: moves for key, moves in self.stated.items() if key not in gone}
        blocks = []
        for block in self.levels:
            if gone.isdisjoint(block.span):
                blocks.append(block)
            else:
                left.update({key: block.moves(key) for key in block.span if key not in gone})
        return Moves(left, blocks)
