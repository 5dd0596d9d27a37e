"""Builds a program of little more than what ranked formulas hold, for all that keeps their choices.

Pricing, describing and weighing a formula use no material that is a choice and not in it, so what they cost
need not grow with the library.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from optiform.brief.models import Brief
from optiform.library.narrowed import narrowed
from optiform.program import Program, build
from optiform.program.judge import followed
from optiform.search.grades import other_grades
from optiform.search.ranking import Candidate
from optiform.solver import Outcome
from optiform.vectors import Floats

MANY = 1000
"""Materials from which on a small program is worth the building."""


@dataclass(frozen=True, eq=False)
class SmallProgram:
    """A brief whose library holds little more than some formulas, and its program.

    Attributes
    ----------
    brief : Brief
    program : Program
    source : Program
        The program of the whole library, at the same ionic strength.
    """

    brief: Brief = field(repr=False)
    program: Program = field(repr=False)
    source: Program = field(repr=False)

    @classmethod
    def of(cls, brief: Brief, program: Program, formulas: Sequence[Floats]) -> SmallProgram:
        """Return the small program of formulas, given as column values of a large one."""
        used = np.sum([values[: program.size] for values in formulas], axis=0) > 0
        optional = program.own_choice < 0
        arrays = brief.library.arrays
        setters = arrays.is_function("acid") | arrays.is_function("base")  # one may have to stand ready
        grades = [other for _, other in other_grades(program, iter(np.flatnonzero(used).tolist()))]
        places = {*np.flatnonzero(used | optional | setters).tolist(), *grades}
        ids = {brief.library.materials[place].id for place in places}
        library = narrowed(brief.library, ids, brief.model_dump(exclude={"library"}))
        near = brief.model_copy(update={"library": library})
        return cls(near, build(near, program.catalogue.conditions.ionic_strength), program)

    def values(self, values: Floats) -> Floats:
        """Return the column values of a formula in the small program from those in the large one."""
        return carried(self.source, values, self.program)


def carried(source: Program, values: Floats, program: Program) -> Floats:
    """Return the column values of a formula in another program, over a library that holds its materials.

    A choice that only the other program has is taken where the material is there.
    """
    if program is source:
        return values
    index = source.library.arrays.material_index
    there = np.array([index.get(material.id, -1) for material in program.library.materials], dtype=np.intp)
    held = there >= 0
    moved = np.zeros(program.form.columns)
    moved[: program.size] = np.where(held, values[there], 0.0)
    own = source.own_choice[there]
    used = np.where(held & (own >= 0), values[own], moved[: program.size] > 0)
    chosen = program.own_choice >= 0
    moved[program.own_choice[chosen]] = used[chosen] * held[chosen]
    for name, column in program.systems.items():
        moved[column] = values[source.systems[name]] if name in source.systems else 0.0
    return followed(program, moved)


def on_small_program(
    brief: Brief,
    program: Program,
    ranking: Iterator[Candidate | Outcome],
    seen: Callable[[Candidate], bool] = lambda item: False,
) -> tuple[SmallProgram, Iterator[Candidate | Outcome]]:
    """Return a small program that holds all formulas of a ranking, with the ranking; a small library stays as it is.

    Formulas that were `seen` before need not be in it.
    """
    if program.size < MANY:
        return SmallProgram(brief, program, program), ranking
    found = list(ranking)
    formulas = [item.values for item in found if isinstance(item, Candidate) and not seen(item)]
    near = SmallProgram.of(brief, program, formulas) if formulas else SmallProgram(brief, program, program)
    return near, iter(found)
