"""The numeric core of a library: vectors over materials, aligned by id.

This is the one place where percent becomes mass fraction: `Arrays.fraction` holds grams of
substance per gram of material; everything a user sees stays in % w/w.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from optiform.vectors import Flags, Floats, Indices

if TYPE_CHECKING:
    from optiform.library.models import Library, Material, Substance


@dataclass(frozen=True, eq=False)
class Arrays:
    """Vectors over the materials and substances of one library.

    Attributes
    ----------
    materials, substances : tuple of str
        Ids and INCI names, in the library's order; n and m of them.
    part_material, part_substance : ndarray of int, shape (parts,)
        Which material holds which substance.
    fraction : ndarray, shape (parts,)  [g/g]
        Mass fraction of the substance in the material.
    price, min_if_used, max_use : ndarray, shape (n,)  [currency/kg], [% w/w], [% w/w]
    """

    library: Library = field(repr=False)
    materials: tuple[str, ...]
    substances: tuple[str, ...]
    part_material: Indices
    part_substance: Indices
    fraction: Floats
    price: Floats
    min_if_used: Floats
    max_use: Floats
    cache: dict[object, Any] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, library: Library) -> Arrays:
        """Build the arrays of a library that was checked."""
        material_index = {material.id: i for i, material in enumerate(library.materials)}
        substance_index = {substance.inci: k for k, substance in enumerate(library.substances)}
        parts = library.parts
        return cls(
            library=library,
            materials=tuple(material_index),
            substances=tuple(substance_index),
            part_material=np.array([material_index[part.material] for part in parts], dtype=np.intp),
            part_substance=np.array([substance_index[part.inci] for part in parts], dtype=np.intp),
            fraction=np.array([part.percent for part in parts], dtype=float) / 100.0,
            price=np.array([material.price for material in library.materials], dtype=float),
            min_if_used=np.array([material.min_if_used for material in library.materials], dtype=float),
            max_use=np.array([material.max_use for material in library.materials], dtype=float),
        )

    @cached_property
    def material_index(self) -> dict[str, int]:
        """Return the position of each material id."""
        return {name: i for i, name in enumerate(self.materials)}

    @cached_property
    def substance_index(self) -> dict[str, int]:
        """Return the position of each INCI name."""
        return {name: k for k, name in enumerate(self.substances)}

    def per_material(self, per_substance: Floats) -> Floats:
        """Return a property per gram of material, shape (n,), from that per gram of substance, shape (m,)."""
        weights = self.fraction * per_substance[self.part_substance]
        return _summed(self.part_material, weights, len(self.materials))

    def over_materials(self, value: Callable[[Material], float]) -> Floats:
        """Return one number per material, shape (n,)."""
        return np.array([value(material) for material in self.library.materials], dtype=float)

    def over_substances(self, value: Callable[[Substance], float]) -> Floats:
        """Return one number per substance, shape (m,)."""
        return np.array([value(substance) for substance in self.library.substances], dtype=float)

    def where(self, test: Callable[[Material], bool]) -> Flags:
        """Flag the materials that pass a test, shape (n,)."""
        return np.array([test(material) for material in self.library.materials], dtype=bool)

    def where_substances(self, test: Callable[[Substance], bool]) -> Flags:
        """Flag the substances that pass a test, shape (m,)."""
        return np.array([test(substance) for substance in self.library.substances], dtype=bool)

    def is_function(self, word: str) -> Flags:
        """Flag the materials whose main function it is, shape (n,)."""
        return self.flags(self._by_function.get(word, ()))

    def has_function(self, word: str) -> Flags:
        """Flag the materials that have a function, main or further, shape (n,)."""
        found = [*self._by_function.get(word, ()), *self._by_further_function.get(word, ())]
        return self.flags(found)

    def has_tag(self, word: str) -> Flags:
        """Flag the materials that carry a tag themselves, as it is written, shape (n,)."""
        return self.flags(self._by_tag.get(word, ()))

    def substance_has_tag(self, word: str) -> Flags:
        """Flag the substances that carry a tag, as it is written, shape (m,)."""
        return self._flags(self._substance_by_tag.get(word, ()), len(self.substances))

    def substance_has_class(self, word: str | None = None) -> Flags:
        """Flag the substances of a charge class, or of any, shape (m,)."""
        words = self._by_class if word is None else (word,)
        found = [place for name in words for place in self._by_class.get(name, ())]
        return self._flags(found, len(self.substances))

    def flags(self, places: Iterable[int]) -> Flags:
        """Flag the materials in some places, shape (n,)."""
        return self._flags(list(places), len(self.materials))

    @staticmethod
    def _flags(places: Sequence[int], length: int) -> Flags:
        flags = np.zeros(length, dtype=bool)
        flags[np.array(places, dtype=np.intp)] = True
        return flags

    @cached_property
    def _by_function(self) -> dict[str, list[int]]:
        return _places((material.function,) for material in self.library.materials)

    @cached_property
    def _by_further_function(self) -> dict[str, list[int]]:
        return _places(material.also for material in self.library.materials)

    @cached_property
    def _by_tag(self) -> dict[str, list[int]]:
        return _places(material.tags for material in self.library.materials)

    @cached_property
    def _substance_by_tag(self) -> dict[str, list[int]]:
        return _places(substance.tags for substance in self.library.substances)

    @cached_property
    def _by_class(self) -> dict[str, list[int]]:
        classes = (substance.charge_class for substance in self.library.substances)
        return _places(() if word is None else (word,) for word in classes)

    def has_substance(self, chosen: Flags) -> Flags:
        """Flag the materials that hold any of the flagged substances, shape (n,)."""
        held = chosen[self.part_substance] & (self.fraction > 0)
        return _summed(self.part_material, held.astype(float), len(self.materials)) > 0

    def substance_percent(self, amounts: Floats) -> Floats:
        """Return % w/w of each substance in a formula of `amounts` (% w/w of each material)."""
        weights = self.fraction * amounts[self.part_material]
        return _summed(self.part_substance, weights, len(self.substances))

    def amounts(self, lines: Iterable[tuple[str, float]]) -> Floats:
        """Turn (material id, % w/w) pairs into a vector, shape (n,)."""
        vector = np.zeros(len(self.materials))
        for material, percent in lines:
            vector[self.material_index[material]] += percent
        return vector


def _places(words: Iterable[Sequence[str]]) -> dict[str, list[int]]:
    """Return where each word stands."""
    places: dict[str, list[int]] = {}
    for place, found in enumerate(words):
        for word in found:
            places.setdefault(word, []).append(place)
    return places


def _summed(place: Indices, weights: Floats, length: int) -> Floats:
    """Add up weights by the place they belong to, shape (length,)."""
    return np.bincount(place, weights=weights, minlength=length).astype(np.float64)
