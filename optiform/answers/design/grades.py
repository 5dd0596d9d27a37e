"""Solves a formula again with another grade of a substance that it is built on."""

from __future__ import annotations

import numpy as np

from optiform.answers.model.answer import Grade
from optiform.program.reduction.bounding import with_structure
from optiform.program.reduction.part import part_of
from optiform.search.fixed_choices import Polished, Ties, polish
from optiform.search.grades import other_grades
from optiform.search.ranking import best
from optiform.solver import Session

ADJUSTING = ("acid", "base")
"""Functions that may come in or go out with another grade: its free alkali is another one."""


def grades_of(polished: Polished, then: Ties, tie: float) -> tuple[Grade, ...]:
    """Return the other grades that would do in a formula, with its aim and cost then, the best by the aim first.

    The other materials stay, but for acids and bases; their amounts follow. Tie-breaks are those of `polish`.
    """
    program, amounts = polished.program, polished.amounts
    used = np.flatnonzero(amounts > 0).tolist()
    found = []
    for material, other in other_grades(program, iter(used)):
        if amounts[other] > 0:
            continue
        swapped = _with_other(polished, material, other, then, tie)
        if swapped is None:
            continue
        library = program.library
        found.append(
            Grade(
                material=library.materials[other].id,
                name=library.materials[other].name,
                instead_of=library.materials[material].id,
                percent=float(swapped.amounts[other]),
                aim=float(program.aim_sign * swapped.objective),
                cost=program.catalogue.find("cost").value(swapped.amounts) or 0.0,
            )
        )
    return tuple(sorted(found, key=lambda grade: (program.aim_sign * grade.aim, grade.cost, grade.material)))


def _with_other(polished: Polished, material: int, other: int, then: Ties, tie: float) -> Polished | None:
    """Return the best formula with another grade in a material's place; None where there is none."""
    program = polished.program
    library = program.library
    kept = (polished.amounts > 0) | (program.own_choice < 0)
    kept |= library.arrays.where(lambda item: item.function in ADJUSTING)
    kept[material], kept[other] = False, True
    part = part_of(with_structure(program, polished.values), kept)
    if not part.possible:
        return None
    session = Session(part.form, arrays=True)
    outcome = best(session, part.form.objective, part.ratio_aim)
    if outcome.values is None or outcome.status != "solved":
        return None
    values = part.full(outcome.values)
    whole = program.form.integer
    values[whole] = np.round(values[whole])
    found = polish(program, values, then, tie)
    return found if found is not None and found.amounts[other] > 0 else None
