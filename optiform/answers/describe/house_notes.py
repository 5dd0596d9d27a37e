"""Tells which notes of the library concern a formula, and which materials are there for a rule alone."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optiform.library.models import Library, Note
from optiform.library.selection import resolve
from optiform.program import Program, Requirement, breaks, complete
from optiform.vectors import Floats

SETTING_PH = ("acid", "base")
"""Only these are there for the pH; that of a dosed wash moves a little whatever is taken out of it."""


def house_notes(library: Library, amounts: Floats) -> tuple[str, ...]:
    """Return the notes of the library that concern a formula, each with the materials it is about.

    `amounts` has shape (n,)  [% w/w].
    """
    return tuple(told for note in library.rules.note if (told := _told(library, note, amounts)))


def _told(library: Library, note: Note, amounts: Floats) -> str:
    ones = _present(library, note.material, amounts)
    others = _present(library, note.other, amounts) if note.other else []
    pair = [index for index in others if index not in ones or len(ones) > 1]
    if not ones or (note.other and not pair):
        return ""
    if note.at_least is not None and amounts[ones].sum() < note.at_least:
        return ""
    about = _names(library, ones) + (f" with {_names(library, others)}" if others else "")
    return f"{about}: {note.say.rstrip('.')}{f' ({note.trust})' if note.trust else ''}."


def _present(library: Library, reference: str, amounts: Floats) -> list[int]:
    index = library.arrays.material_index
    return [index[name] for name in resolve(reference, library) if amounts[index[name]] > 0]


def _names(library: Library, indices: list[int]) -> str:
    names = [library.materials[index].name.partition(",")[0] for index in indices]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def only_for_a_rule(program: Program, values: Floats) -> tuple[str, ...]:
    """Return a sentence for each material that nothing but a rule of the library wants.

    Such a material, with water in its place, breaks a rule and none of the brief's wishes.

    Parameters
    ----------
    values : ndarray, shape (columns,)
        Of a formula that meets the program.
    """
    amounts = values[: program.size]
    before = {item.requirement.key for item in breaks(program, complete(program, amounts))}
    told = []
    for index in _spare(program, amounts):
        without = amounts.copy()
        without[program.library.arrays.material_index[program.library.water.id]] += without[index]
        without[index] = 0.0
        broken = [item.requirement for item in breaks(program, complete(program, without))]
        new = [requirement for requirement in broken if requirement.key not in before]
        if program.library.materials[index].function not in SETTING_PH:
            new = [requirement for requirement in new if requirement.measure != "pH"]
        reason = _reason(new)
        if reason:
            name = program.library.materials[index].name
            told.append(f"{name} is there only because a rule of the library asks for it: {reason}.")
    return tuple(told)


def _spare(program: Program, amounts: Floats) -> Iterator[int]:
    """Yield what could be taken out: neither water nor a member of a preservative system."""
    members = {member for system in program.library.systems for member in system.members}
    for index in np.flatnonzero(amounts > 0).tolist():
        material = program.library.materials[index]
        if material.function != "water" and material.id not in members:
            yield index


def _reason(broken: list[Requirement]) -> str:
    if not broken or any(requirement.origin == "brief" for requirement in broken):
        return ""
    reasons = dict.fromkeys(r.why or r.title for r in broken if r.origin == "library")
    return "; ".join(reason.rstrip(".") for reason in reasons)
