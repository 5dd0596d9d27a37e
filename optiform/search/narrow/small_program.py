"""The formulas of a ranking in a program of little more than what they hold: for all that keeps their choices.

Pricing, describing and weighing a formula use no material that is a choice and not in it, so what they cost
need not grow with the library.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.library.narrowed import narrowed
from optiform.program import build
from optiform.program.rows.preferences import filled
from optiform.search.grades import other_grades
from optiform.search.ranking import Candidate

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.program import Program
    from optiform.solver import Outcome

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
        if self.program is self.source:
            return values
        near, far = self.program, self.source
        place = far.library.arrays.material_index
        here = np.array([place[material.id] for material in near.library.materials], dtype=np.intp)
        moved = np.zeros(near.form.columns)
        moved[: near.size] = values[here]
        own = near.own_choice >= 0
        moved[near.own_choice[own]] = values[far.own_choice[here[own]]]
        for name, column in near.systems.items():
            moved[column] = values[far.systems[name]]
        for helper in near.helpers:
            moved[helper.column] = helper.value(moved)
        return filled(near, moved)


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
