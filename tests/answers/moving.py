"""A brief with one of its limits, or one of its library's, moved to another bound."""

from __future__ import annotations

from optiform.brief.models import Brief, Target
from optiform.program import Requirement


def moved(brief: Brief, requirement: Requirement, bound: float) -> Brief:
    """Return the brief with the limit that a requirement names at another bound."""
    key = requirement.key
    where, name, place = key.section, key.name, key.entry
    sides = ("at_least", "at_most") if requirement.side == "equal" else (requirement.side,)
    ends = dict.fromkeys(sides, bound)
    if where == "targets":
        old = brief.targets[name]
        return brief.model_copy(update={"targets": {**brief.targets, name: _with(old, ends)}})
    if where in ("include", "share", "ratio"):
        return brief.model_copy(update={where: _at(getattr(brief, where), place, ends)})
    library = brief.library
    if where == "use":
        field = "min_if_used" if requirement.side == "at_least" else "max_use"
        materials = tuple(
            m.model_copy(update={field: bound}) if m.id == name else m for m in library.materials
        )
        return brief.model_copy(update={"library": library.model_copy(update={"materials": materials})})
    if where in ("pH", "system"):
        return brief.model_copy(update={"library": _with_window(library, requirement, bound)})
    rules = library.rules if where == "library" else brief.rules
    changed = {"ratio": bound} if name == "needs" else ends
    rules = rules.model_copy(update={name: _at(getattr(rules, name), place, changed)})
    if where == "brief":
        return brief.model_copy(update={"rules": rules})
    return brief.model_copy(update={"library": library.model_copy(update={"rules": rules})})


def _with_window(library, requirement, bound):
    """Return the library with the dose of a preservative, or the end of the pH windows of the subjects, moved."""
    end = 0 if requirement.side == "at_least" else 1

    def turned(window):
        return tuple(bound if k == end else value for k, value in enumerate(window))

    name = requirement.subject[0]
    if requirement.key.section == "system":
        system = requirement.key.place[1]
        systems = [
            _with(s, {"members": {**s.members, name: turned(s.members[name])}}) if s.name == system else s
            for s in library.systems
        ]
        return library.model_copy(update={"systems": tuple(systems)})
    field = ("pH_min", "pH_max")[end]
    systems = [
        _with(s, {"pH": turned(s.pH)}) if s.name in requirement.subject else s for s in library.systems
    ]
    materials = [_with(m, {field: bound}) if m.id in requirement.subject else m for m in library.materials]
    return library.model_copy(update={"systems": tuple(systems), "materials": tuple(materials)})


def _at(items, place, changes):
    return tuple(_with(item, changes) if k == place else item for k, item in enumerate(items, 1))


def _with(item, changes):
    return (
        item.model_copy(update=changes)
        if not isinstance(item, Target)
        else Target(**{**item.model_dump(), **changes})
    )
