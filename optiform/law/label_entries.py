"""Takes a formula apart into substances, as the rules of a label want to see them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Literal

from optiform.law.label import LabelEntry
from optiform.law.reading import load_law
from optiform.library.models import Library, Material, Part

End = Literal["percent", "low", "high"]
COLOUR_INDEX = re.compile(r"CI \d{5}", re.IGNORECASE)
WHOLE_OIL = "essential-oil"
NANO = "nano"


@cache
def preservatives() -> frozenset[str]:
    """Return the names, without case, that the list of preservatives of Annex V holds.

    Also used where a place has no such list of its own: whether a substance preserves does not
    depend on the place.
    """
    rows = load_law("EU").limits
    return frozenset(name.casefold() for row in rows if row.use == "preservative" for name in row.substances)


def label_entries(
    amounts: Mapping[str, float], library: Library, end: End = "percent"
) -> tuple[LabelEntry, ...]:
    """Return one entry per part of each material.

    Parameters
    ----------
    amounts : mapping of str to float  [% w/w]
        Material id and amount.
    end : str
        percent for the typical composition; low or high for an end of the supplier's specification
        (the typical value where a part has none).

    Notes
    -----
    Every part of a fragrance material is marked as perfume, and the constituents of an essential oil
    that is broken down are marked as parts of that oil: they count as its ingredients whatever the
    table calls them, so that an allergen inside an oil is never lost as incidental.
    """
    return tuple(
        _entry(part, material, library, percent * _held(part, end) / 100.0)
        for material, percent in ((library.material[name], percent) for name, percent in amounts.items())
        if percent > 0
        for part in library.composition[material.id]
    )


def _held(part: Part, end: End) -> float:
    value = part.percent if end == "percent" else getattr(part, end)
    return float(part.percent if value is None else value)


def _entry(part: Part, material: Material, library: Library, percent: float) -> LabelEntry:
    substance = library.substance[part.inci]
    is_fragrance = "fragrance" in material.functions
    whole = _whole_oil(material, library)
    inside = whole if whole != part.inci else ""
    is_part = is_fragrance or bool(inside)
    tags = (
        {*substance.tags, *material.tags}
        if len(library.composition[material.id]) == 1
        else set(substance.tags)
    )
    return LabelEntry(
        inci=part.inci,
        percent=percent,
        kind="ingredient" if is_part and part.label != "impurity" else part.label,
        is_colourant="colourant" in substance.tags or COLOUR_INDEX.fullmatch(part.inci) is not None,
        is_nano=NANO in tags,
        is_fragrance=is_fragrance,
        is_fragrance_allergen=is_fragrance and "allergen" in substance.tags,
        part_of=inside,
        is_preservative=not is_part and part.inci.casefold() in preservatives(),
        us_name=substance.name_us,
    )


def _whole_oil(material: Material, library: Library) -> str:
    """Return the essential oil that a material is, where its composition breaks it down."""
    found = [
        part.inci
        for part in library.composition[material.id]
        if WHOLE_OIL in library.substance[part.inci].tags
    ]
    inside = any(part.label == "incidental" for part in library.composition[material.id])
    return found[0] if len(found) == 1 and inside else ""
