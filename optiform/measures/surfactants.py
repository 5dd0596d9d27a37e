"""Strength and gentleness of the surfactants, two levers that stay apart."""

from __future__ import annotations

import numpy as np

from optiform.library.models import Library, Trust
from optiform.measures.amounts import total
from optiform.measures.measure import Measure, Unknown
from optiform.measures.parts import active_matter, active_part, weakest
from optiform.vectors import Flags, Floats

MILDNESS_NOTE = (
    "an ordinal index on active matter, whole numbers; differences under 5 count as equal; "
    "the plain mean is conservative for anionic with amphoteric; it is no promise for any skin"
)


def strength(library: Library) -> Measure:
    """Return the active matter: % w/w of substances with a charge class in surfactant materials."""
    return total(library, "active matter", active_matter(library))


def strength_of_class(library: Library, word: str) -> Measure:
    """Return the active matter of one charge class, % w/w."""
    return total(library, word, active_part(library, word, word))


def share(library: Library, kind: str, word: str, name: str) -> Measure:
    """Return the share of a class, substance, material or tag, % of active matter."""
    return Measure(
        name=name,
        unit="% of active matter",
        numerator=100.0 * active_part(library, kind, word),
        denominator=active_matter(library),
        lowest=0.0,
        highest=100.0,
        trust=weakest(library, "percent"),
        digits=1,
    )


def mildness(library: Library) -> Measure:
    """Return the mean mildness index of the active matter, 0 (harsh) to 100 (gentle)."""
    index, unrated, missing = _index(library)
    return Measure(
        name="mildness",
        unit="points",
        numerator=index,
        denominator=active_matter(library),
        better="higher",
        lowest=0.0,
        highest=100.0,
        trust=max(weakest(library, "mildness"), Trust.ESTIMATE, key=lambda trust: trust.rank),
        digits=0,
        missing=missing,
        note=MILDNESS_NOTE,
        unknown=Unknown(np.zeros_like(unrated), 100.0 * unrated),
    )


def irritation_load(library: Library) -> Measure:
    """Return active matter times its distance from perfect mildness: strength counts here."""
    index, unrated, missing = _index(library)
    return Measure(
        name="irritation load",
        unit="points x % w/w",
        numerator=100.0 * active_matter(library) - index,
        better="lower",
        lowest=0.0,
        trust=max(weakest(library, "mildness"), Trust.ESTIMATE, key=lambda trust: trust.rank),
        digits=0,
        missing=missing,
        note=MILDNESS_NOTE,
        unknown=Unknown(-100.0 * unrated, np.zeros_like(unrated)),
    )


def _index(library: Library) -> tuple[Floats, Floats, Flags]:
    """Return active matter times mildness of each material, active matter without index, and who lacks data."""
    arrays = library.arrays
    surfactant = arrays.is_function("surfactant")
    known = arrays.over_substances(
        lambda substance: substance.mildness or 0.0 if substance.charge_class is not None else 0.0
    )
    lacks = arrays.where_substances(lambda each: each.charge_class is not None and each.mildness is None)
    unrated = arrays.per_material(lacks.astype(float)) * surfactant
    return arrays.per_material(known) * surfactant, unrated, arrays.has_substance(lacks) & surfactant
