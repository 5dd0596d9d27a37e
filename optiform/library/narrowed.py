"""Returns a library of few materials in which every rule and name still means something."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

from optiform.library.models import Library


def narrowed(library: Library, wanted: Collection[str], named: Any = None) -> Library:
    """Return a library of the wanted materials, and of what must be there for the rules and names to be understood.

    Water, the members of preservative systems, whatever a rule, a trial or a titration names, and one
    material for each function and tag stay as well.

    Parameters
    ----------
    named : nested mappings and sequences, optional
        Whatever else names materials: those found in it stay.
    """
    ids = {library.water.id, *wanted}
    ids.update(member for system in library.systems for member in system.members)
    ids.update(point.material for point in library.titrations)
    ids.update(trial.material for trial in library.trials)
    for word in words((library.rules.model_dump(), named)):
        if (name := word.rpartition(":")[2]) in library.material:
            ids.add(name)
    seen: set[str] = set()
    for material in library.materials:
        new = {material.function, *material.also, *material.tags} - seen
        if material.id in ids or new:
            ids.add(material.id)
            seen |= new
    return library.model_copy(
        update={
            "materials": tuple(material for material in library.materials if material.id in ids),
            "parts": tuple(part for part in library.parts if part.material in ids),
            "packs": tuple(pack for pack in library.packs if pack.material in ids),
        }
    )


def words(value: Any) -> Iterator[str]:
    """Yield every text in nested mappings and sequences, keys included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from words(key)
            yield from words(inner)
    elif isinstance(value, list | tuple | set | frozenset):
        for inner in value:
            yield from words(inner)
