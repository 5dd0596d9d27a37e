"""Parts of a formula that measures are made of: active matter, a tag, a substance, a function."""

from __future__ import annotations

from typing import get_args

import numpy as np

from optiform.library.cached_per_library import cached_per_library
from optiform.library.models import ChargeClass, Library, Trust
from optiform.library.selection import FUNCTIONS
from optiform.vectors import Flags, Floats

CHARGE_CLASSES: tuple[str, ...] = get_args(ChargeClass)


class UnknownPart(KeyError):
    """No material, substance, function, tag or class of that name."""


def active_matter(library: Library, chosen: Flags | None = None) -> Floats:
    """Return the surfactant fraction of each material, of all substances or of `chosen` ones, shape (n,)  [g/g].

    Only substances with a charge class count, and only inside materials whose function is
    surfactant: solubilisers, emulsifiers, thickeners and conditioning quats never do.
    """
    arrays = library.arrays
    has_class = arrays.substance_has_class()
    if chosen is not None:
        has_class = has_class & chosen
    return arrays.per_material(has_class.astype(float)) * arrays.is_function("surfactant")


def substance_flags(library: Library, kind: str, word: str) -> Flags:
    """Flag the substances that a reference means, shape (m,)."""
    arrays = library.arrays
    if kind != "substance":
        return arrays.substance_has_tag(word)
    flags = np.zeros(len(arrays.substances), dtype=bool)
    if word in arrays.substance_index:
        flags[arrays.substance_index[word]] = True
    return flags


def part(library: Library, kind: str, word: str) -> Floats:
    """Return how much of each material belongs to a reference, shape (n,)  [g/g].

    Whole materials for a material or function; of a substance its fraction; of a tag whole materials that carry it
    themselves, else the fraction of substances that do.

    Raises
    ------
    UnknownPart
        If the library knows nothing of that name.
    """
    arrays = library.arrays
    if kind == "material":
        if word not in arrays.material_index:
            raise UnknownPart(word)
        vector = np.zeros(len(arrays.materials))
        vector[arrays.material_index[word]] = 1.0
        return vector
    if kind == "function":
        if word not in FUNCTIONS:
            raise UnknownPart(word)
        return arrays.has_function(word).astype(float)
    if kind == "substance" and word not in arrays.substance_index:
        raise UnknownPart(word)
    inside = arrays.per_material(substance_flags(library, kind, word).astype(float))
    if kind == "substance":
        return inside
    whole = arrays.has_tag(word)
    if not whole.any() and not inside.any() and word not in known_tags(library):
        raise UnknownPart(word)
    return np.where(whole, 1.0, inside)


def active_part(library: Library, kind: str, word: str) -> Floats:
    """Return how much active matter of each material belongs to a reference, shape (n,)."""
    if kind in CHARGE_CLASSES:
        return active_matter(library, library.arrays.substance_has_class(kind))
    if kind in ("material", "function"):
        return active_matter(library) * part(library, kind, word)
    inside = active_matter(library, substance_flags(library, kind, word))
    if kind == "substance":
        return inside
    whole = library.arrays.has_tag(word)
    return np.where(whole, active_matter(library), inside)


@cached_per_library
def known_tags(library: Library) -> frozenset[str]:
    """Return every tag of the library, without the mark of doubt."""
    words: set[str] = set()
    tagged = [*(item.tags for item in library.materials), *(item.tags for item in library.substances)]
    for tags in tagged:
        words.update(word.removesuffix("?") for word in tags)
    return frozenset(words)


def weakest(library: Library, *columns: str) -> Trust:
    """Return the weakest trust among columns; a column without one counts as from memory."""
    trusts = [library.trust.get(column, Trust.MEMORY) for column in columns]
    return max(trusts, key=lambda trust: trust.rank)
