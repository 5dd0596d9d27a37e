"""Measures that the user adds as columns of the library; no code needed."""

from __future__ import annotations

import numpy as np

from optiform.library.models import ColumnMeasure, Library
from optiform.measures.measure import Measure, Unknown
from optiform.measures.parts import UnknownPart, active_matter, part, substance_flags, weakest
from optiform.vectors import Floats


def column_measure(library: Library, column: ColumnMeasure) -> Measure:
    """Return the measure that a column of materials.csv or substances.csv stands for.

    A total adds value * % w/w; a mean divides by the basis, which is "active matter", "tag:WORD",
    "function:WORD", "substance:INCI" or "material:ID".
    """
    of_materials = any(column.column in material.extra for material in library.materials)
    items = library.materials if of_materials else library.substances
    values = np.array([item.extra.get(column.column, np.nan) for item in items], dtype=float)
    absent = np.isnan(values)
    numbers, blank = np.where(absent, 0.0, values), absent.astype(float)
    denominator, weight = None, None
    if column.basis == "total":
        numerator, unstated = numbers, blank
        if not of_materials:
            numerator, unstated = (library.arrays.per_material(each) for each in (numbers, blank))
    elif of_materials:
        denominator = _basis(library, column.basis, None)
        numerator, unstated = numbers * denominator, blank * denominator
    else:
        numerator, denominator, unstated = (
            _basis(library, column.basis, each) for each in (numbers, 1.0 - blank, blank)
        )
        weight = unstated
    return Measure(
        name=column.name,
        unit=column.unit,
        numerator=numerator,
        denominator=denominator,
        better=column.better,
        trust=weakest(library, column.column),
        missing=unstated > 0,
        unknown=None if absent.all() else _range(unstated, values[~absent], weight),
    )


def _range(unstated: Floats, known: Floats, weight: Floats | None) -> Unknown:
    """Return what blank cells may add: a column of one's own has no scale, so what it states elsewhere bounds them."""
    low, high = float(known.min()), float(known.max())
    return Unknown(
        low * unstated, high * unstated, weight, f"a blank counts as anything from {low:g} to {high:g}"
    )


def _basis(library: Library, basis: str, per_substance: Floats | None) -> Floats:
    """Return the basis of a mean over materials, each substance weighted where values are given."""
    arrays = library.arrays
    kind, _, word = basis.partition(":")
    if basis == "active matter":
        if per_substance is None:
            return active_matter(library)
        has_class = arrays.over_substances(lambda substance: substance.charge_class is not None)
        return arrays.per_material(has_class * per_substance) * (active_matter(library) > 0)
    if kind not in ("tag", "function", "substance", "material"):
        raise UnknownPart(basis)
    if per_substance is None:
        return part(library, kind, word)
    if kind in ("function", "material"):
        return part(library, kind, word) * arrays.per_material(per_substance)
    whole = arrays.where(lambda material: kind == "tag" and word in material.tags)
    inside = arrays.per_material(substance_flags(library, kind, word) * per_substance)
    return np.where(whole, arrays.per_material(per_substance), inside)
