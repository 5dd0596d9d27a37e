"""Gathers everything that a library says of one material."""

from __future__ import annotations

from dataclasses import dataclass

from optiform.faults import Faults
from optiform.library.models import (
    Incompatible,
    Library,
    LinearRule,
    Material,
    Needs,
    Note,
    Pack,
    Part,
    PreservativeSystem,
    TitrationPoint,
    Trial,
    When,
)
from optiform.library.selection import reference_problem, resolve, select


@dataclass(frozen=True)
class About:
    """One material with all that belongs to it.

    Attributes
    ----------
    parts : tuple of Part
        Its composition, the largest part first.
    systems : tuple of PreservativeSystem
        The preservative systems that it is a member of.
    needs : tuple of (Needs, bool)
        Rules in which it needs something (True) or is what something needs (False).
    """

    material: Material
    parts: tuple[Part, ...]
    systems: tuple[PreservativeSystem, ...]
    needs: tuple[tuple[Needs, bool], ...]
    incompatible: tuple[Incompatible, ...]
    when: tuple[When, ...]
    linear: tuple[LinearRule, ...]
    notes: tuple[Note, ...]
    packs: tuple[Pack, ...]
    titrations: tuple[TitrationPoint, ...]
    trials: tuple[Trial, ...]


def about(library: Library, material: str) -> About:
    """Return what a library says of one material.

    Raises
    ------
    KeyError
        If the library has no such material.
    """
    rules = library.rules

    def meant(reference: str | None) -> bool:
        return material in resolve(reference, library) if reference else False

    return About(
        material=library.material[material],
        parts=tuple(sorted(library.composition[material], key=lambda part: (-part.percent, part.inci))),
        systems=tuple(system for system in library.systems if material in system.members),
        needs=tuple(
            (rule, meant(rule.material)) for rule in rules.needs if meant(rule.material) or meant(rule.other)
        ),
        incompatible=tuple(rule for rule in rules.incompatible if meant(rule.one) or meant(rule.other)),
        when=tuple(rule for rule in rules.when if meant(rule.material)),
        linear=tuple(rule for rule in rules.linear if any(meant(term.material) for term in rule.terms)),
        notes=tuple(note for note in rules.note if meant(note.material) or meant(note.other)),
        packs=tuple(pack for pack in library.packs if pack.material == material),
        titrations=tuple(point for point in library.titrations if point.material == material),
        trials=tuple(trial for trial in library.trials if trial.material == material),
    )


def chosen(library: Library, function: str | None = None, tag: str | None = None) -> tuple[Material, ...]:
    """Return the materials of a function, a tag, or both; those that may have the tag count.

    Raises
    ------
    BadInput
        If the library knows no such function or tag.
    """
    faults = Faults(library.name)
    kept = dict.fromkeys(material.id for material in library.materials)
    for kind, word in (("function", function), ("tag", tag)):
        if word is None:
            continue
        problem = reference_problem(library, f"{kind}:{word}")
        if problem is not None:
            near = problem.nearest.partition(":")[2]
            faults.add(f"--{kind}", problem.message, allowed=problem.allowed, nearest=near)
            continue
        found = select(library, kind, word)
        kept = {material: None for material in kept if material in {*found.sure, *found.maybe}}
    faults.raise_if_any()
    return tuple(library.material[material] for material in kept)
