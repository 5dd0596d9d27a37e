"""States yes-or-no choices: what is used, which preservative system, which thickener gives the viscosity."""

from __future__ import annotations

import numpy as np

from optiform.brief.models import Target
from optiform.library.models import PreservativeSystem
from optiform.measures.texture import Viscosity
from optiform.program.program import USED
from optiform.program.requirement import SIDE_WORDS, Key, Requirement
from optiform.program.rows.draft import Draft, sides


def add_materials(draft: Draft) -> None:
    """Add the amounts, the balance, the preservative systems and the choices that use levels need."""
    library = draft.library
    draft.add_amounts(library.arrays.max_use)
    balance = draft.require_own(Key("balance"), "all materials add up to 100 % w/w")
    size = len(library.materials)
    draft.add_row(balance, range(size), np.ones(size), lower=100.0, upper=100.0)
    add_systems(draft)
    leveled = (library.arrays.min_if_used > 0) & ~library.arrays.is_function("water")
    draft.all_used(np.flatnonzero(leveled).tolist())


def add_systems(draft: Draft) -> None:
    """Choose exactly one preservative system whenever the library has any; never traded for cost."""
    systems = draft.library.systems
    if not systems:
        return
    for system in systems:
        draft.systems[system.name] = draft.column()
    one = draft.require_choice(
        Key("preserved"),
        "water must be preserved: exactly one preservative system",
        "library",
        measure="preservative systems",
        movable=False,
        why="a water-based wash spoils without a complete preservative system",
    )
    draft.add_row(one, draft.systems.values(), [1.0] * len(systems), lower=1.0, upper=1.0)
    members: dict[str, list[PreservativeSystem]] = {}
    for system in systems:
        for member in system.members:
            members.setdefault(member, []).append(system)
    for member, its_systems in members.items():
        _add_member(draft, member, its_systems)


def _add_member(draft: Draft, member: str, systems: list[PreservativeSystem]) -> None:
    """Use a member only through the chosen system, inside that system's window.

    A window that starts at 0 leaves the member optional: then it has a choice of its own.
    """
    index = draft.position(member)
    material = draft.library.materials[index]
    choices = np.array([draft.systems[system.name] for system in systems], dtype=np.intp)
    floors = [system.members[member][0] for system in systems]
    if min(floors) > 0:
        draft.uses[index] = choices
    else:
        draft.used(index)
    requirement = draft.require(
        Requirement(
            key=Key("system", (member,)),
            title=f"{member} only inside its preservative system's window",
            origin="library",
            movable=False,
            subject=(member,),
            why="; ".join(
                f"{system.name}: {system.members[member][0]:g} to {system.members[member][1]:g} % w/w"
                for system in systems
            ),
        )
    )
    low = [-max(floor, USED) if floor > 0 else 0.0 for floor in floors]
    high = [-min(system.members[member][1], material.max_use) for system in systems]
    draft.add_row(requirement, [index, *choices], [1.0, *low], lower=0.0)
    draft.add_row(requirement, [index, *choices], [1.0, *high], upper=0.0)


def limit_viscosity(draft: Draft, measure: Viscosity, target: Target, key: Key) -> None:
    """Turn a viscosity window into a window on the amount of the one thickener that is chosen."""
    if not measure.ladders:
        message = f"no trials in the base '{target.base}'"
        draft.faults.add("[targets] viscosity", message, allowed="trials.csv needs two rising points")
        return
    bounds = [f"{SIDE_WORDS[side]} {bound:g}" for side, bound in sides(target.at_least, target.at_most)]
    requirement = draft.require_choice(
        key,
        f"viscosity {' and '.join(bounds)} mPa.s in {measure.base}, by one tried thickener",
        measure="viscosity",
        unit="mPa.s",
        subject=tuple(ladder.material for ladder in measure.ladders),
    )
    _in_base(draft, measure, key)
    tried = {index for _, index in measure.placed}
    columns = [column for choices in draft.all_used(sorted(tried)) for column in choices]
    draft.add_row(requirement, columns, [1.0] * len(tried), lower=1.0, upper=1.0)
    for ladder, index in measure.placed:
        window = ladder.window(target.at_least, target.at_most)
        if window is None:
            draft.forbid(requirement, [index])
            continue
        (choice,) = draft.used(index)
        draft.add_row(requirement, [index, choice], [1.0, -window[0]], lower=0.0)
        draft.add_row(requirement, [index, choice], [1.0, -window[1]], upper=0.0)
    others = [
        index
        for index, material in enumerate(draft.library.materials)
        if "thickener" in material.functions and index not in tried
    ]
    draft.forbid(requirement, others)


def _in_base(draft: Draft, measure: Viscosity, key: Key) -> None:
    """Keep the surfactants inside what was tried in the base; say so where nobody described it."""
    if not measure.windows:
        draft.notes.append(
            f"The base '{measure.base}' is not described in library.toml ([[base]]): whether this wash is like the "
            "trials is for you to judge, and no viscosity is printed."
        )
    why = f"inside what was tried in {measure.base}"
    for window in measure.windows:
        own = Key(key.section, (*key.place, "base", window.measure.name))
        draft.limit(own, window.measure, window.low, window.high, movable=False, why=why)
