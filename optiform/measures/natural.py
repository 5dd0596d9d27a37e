"""Natural origin after the arithmetic of ISO 16128-2, with and without the added water."""

from __future__ import annotations

import numpy as np

from optiform.library.models import Library, Trust
from optiform.measures.measure import Measure, Unknown
from optiform.measures.parts import weakest

NOTE = (
    "by molar mass (ISO 16128-2): what comes from petrochemistry counts out, minerals count in; other methods differ "
    "by 0.1 and more, and a supplier's declaration decides"
)


def natural_origin(library: Library, *, without_water: bool = False) -> Measure:
    """Return the natural origin content, % (ISO 16128-2:2017).

    A supplier's index for a material overrides the indices of its substances. Without water the added water (the q.s.)
    is left out of both sums; water inside materials stays.
    """
    arrays = library.arrays
    from_substances = arrays.per_material(
        arrays.over_substances(lambda each: 1.0 if each.inci == "Aqua" else each.natural_origin or 0.0)
    )
    lacks = arrays.where_substances(lambda each: each.natural_origin is None and each.inci != "Aqua")
    declared = arrays.where(lambda material: material.natural_origin is not None)
    index = np.where(
        declared, arrays.over_materials(lambda material: material.natural_origin or 0.0), from_substances
    )
    added_water = arrays.is_function("water")
    kept = (~added_water).astype(float)
    unstated = np.where(declared, 0.0, arrays.per_material(lacks.astype(float)))
    return Measure(
        name="natural origin without water" if without_water else "natural origin",
        unit="%",
        numerator=100.0 * index * kept if without_water else index,
        denominator=kept if without_water else None,
        better="higher",
        lowest=0.0,
        highest=100.0,
        trust=max(weakest(library, "natural_origin"), Trust.ESTIMATE, key=lambda trust: trust.rank),
        digits=0,
        missing=arrays.has_substance(lacks) & ~declared,
        note=NOTE,
        unknown=Unknown(np.zeros_like(unstated), 100.0 * unstated * kept if without_water else unstated),
    )
