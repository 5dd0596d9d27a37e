"""Tells what makes two formulas different: the substances with a role in them, and the preservative system.

Grades of one substance (another strength, another supplier) are one choice: they make no structure of their own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.library.selection import select
from optiform.program.program import Helper
from optiform.program.requirement import Key
from optiform.vectors import distinct

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from optiform.library.models import Library
    from optiform.program.rows.draft import Draft
    from optiform.vectors import Indices

LEAST_PART = 0.1
"""A substance has a role in a material from this part of its substances with that role on; less is a residue."""


@dataclass(frozen=True, eq=False)
class Structure:
    """The columns that make two formulas different, and what each of them stands for.

    Attributes
    ----------
    columns : ndarray of int
        Choice columns, and helper columns that are 1 when any grade of a substance is used, else 0.
    names : dict of int to tuple of str
        The substances that a column stands for; preservative systems are not among them.
    grades : dict of int to tuple of int
        For each material that serves by some substances: the others that serve by the same.
    """

    columns: Indices = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    names: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    grades: Mapping[int, tuple[int, ...]] = field(default_factory=dict)


def roles(library: Library, word: str) -> dict[str, tuple[str, ...]]:
    """Return, for each material of a function by its id, the substances by which it serves there.

    A surfactant serves by its substances with a charge class, any other material by what is in it beside water; one in
    which no such substance is known serves by its own name.
    """
    return {name: _serving(library, word, name) for name in select(library, "function", word).sure}


def served(library: Library, words: Sequence[str], material: str) -> frozenset[str]:
    """Return the substances by which a material makes a formula different, by the functions that do."""
    functions = library.material[material].functions
    return frozenset(
        inci for word in words if word in functions for inci in _serving(library, word, material)
    )


def _serving(library: Library, word: str, material: str) -> tuple[str, ...]:
    parts = [part for part in library.composition.get(material, ()) if part.percent > 0]
    classed = [part for part in parts if library.substance[part.inci].charge_class is not None]
    if word == "surfactant" and classed:
        serving = classed
    else:
        water = {part.inci for part in library.composition[library.water.id]}
        serving = [part for part in parts if part.label == "ingredient" and part.inci not in water]
    least = LEAST_PART * sum(part.percent for part in serving)
    found = sorted(part.inci for part in serving if part.percent >= least)
    return tuple(found) or (library.material[material].name,)


def add_structure(draft: Draft) -> Structure:
    """Add what tells structures apart: a column for each substance with a role, or the system's own."""
    systems = set(draft.systems.values())
    names: dict[int, tuple[str, ...]] = {}
    grades: dict[int, tuple[int, ...]] = {}
    columns: list[int] = []
    for word in draft.brief.ranked.differ_in:
        if word == "preservative" and systems:
            columns += draft.systems.values()
            continue
        serving = dict(_choosable(draft, word))
        grades |= _grades(serving)
        for substances, materials in _by_materials(serving):
            column = _any_grade(draft, materials)
            names[column] = tuple(sorted({*names.get(column, ()), *substances}))
    return Structure(distinct(np.array([*columns, *names], dtype=np.intp)), names, grades)


def _grades(serving: Mapping[int, tuple[str, ...]]) -> dict[int, tuple[int, ...]]:
    """Return, for each material, the others that serve by the same substances; none has no entry."""
    alike: dict[tuple[str, ...], list[int]] = {}
    for index, substances in serving.items():
        alike.setdefault(substances, []).append(index)
    return {
        index: tuple(other for other in group if other != index)
        for group in alike.values()
        if len(group) > 1
        for index in group
    }


def _choosable(draft: Draft, word: str) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Yield the materials of a function that are no members of a preservative system, with their substances."""
    systems = set(draft.systems.values())
    for name, substances in roles(draft.library, word).items():
        index = draft.position(name)
        if index not in draft.uses or systems.isdisjoint(draft.uses[index].tolist()):
            yield index, substances


def _by_materials(
    serving: Mapping[int, tuple[str, ...]],
) -> Iterator[tuple[tuple[str, ...], tuple[int, ...]]]:
    """Yield the substances that stand in the same materials together, with these."""
    holding: dict[str, list[int]] = {}
    for index, substances in serving.items():
        for inci in substances:
            holding.setdefault(inci, []).append(index)
    together: dict[tuple[int, ...], list[str]] = {}
    for inci, materials in holding.items():
        together.setdefault(tuple(materials), []).append(inci)
    for grades, found in together.items():
        yield tuple(found), grades


def _any_grade(draft: Draft, materials: tuple[int, ...]) -> int:
    """Return the column that is 1 when any of some materials is used, and 0 when none is."""
    members = draft.all_used(materials)
    if len(materials) == 1:
        return int(members[0][0])
    helper = draft.column()
    link = draft.require_own(Key("grades", (helper,)), "a substance is used when any of its grades is")
    draft.link(link, helper, members)
    columns = [column for choices in members for column in choices.tolist()]
    draft.add_row(link, [helper, *columns], [1.0, *([-1.0] * len(columns))], upper=0.0)
    draft.helpers.append(Helper(helper, distinct(np.array(columns, dtype=np.intp))))
    return helper
