"""Hydrophile-lipophile balance of the emulsifiers, and the one that the oils require (Griffin 1949)."""

from __future__ import annotations

from typing import Literal

import numpy as np

from optiform.library.models import Library
from optiform.measures.measure import Measure, Unknown
from optiform.measures.parts import weakest

LARGEST = 20.0
"""Upper end of Griffin's scale for nonionic emulsifiers and oils: what is not known lies between it and 0."""
NOTE = "weight-additive by convention; a starting point for trials, not a promise of stability"


def balance(library: Library, which: Literal["emulsifier HLB", "required HLB"]) -> Measure:
    """Return the mean HLB of the emulsifiers, or the mean required HLB of the oils.

    Each is a mean over the substances that carry the figure, inside materials whose function is
    emulsifier or solubiliser (HLB) or oil (required HLB). A material of these in which no substance
    carries it leaves the mean unknown.
    """
    functions = {"emulsifier", "solubiliser"} if which == "emulsifier HLB" else {"oil"}
    column: Literal["hlb", "required_hlb"] = "hlb" if which == "emulsifier HLB" else "required_hlb"
    arrays = library.arrays
    counted = arrays.where(lambda material: bool(functions & set(material.functions)))
    figure = np.array([getattr(substance, column) for substance in library.substances], dtype=float)
    stated = ~np.isnan(figure)
    weight = arrays.per_material(stated.astype(float)) * counted
    blank = (counted & (weight == 0)).astype(float)
    return Measure(
        name=which,
        unit="HLB",
        numerator=arrays.per_material(np.where(stated, figure, 0.0)) * counted,
        denominator=weight,
        missing=counted & (weight == 0),
        lowest=0.0,
        highest=40.0,
        trust=weakest(library, column),
        digits=1,
        note=NOTE,
        unknown=Unknown(np.zeros_like(blank), LARGEST * blank, blank),
    )
