"""Plain amounts: of a substance, a tag, a function, a material, electrolyte, any share or ratio; and the cost."""

from __future__ import annotations

import numpy as np

from optiform.library.models import Library, Trust
from optiform.measures.measure import Measure, Row, Side
from optiform.measures.parts import part, weakest
from optiform.vectors import Floats


def total(library: Library, name: str, numerator: Floats) -> Measure:
    """Return the % w/w of a formula that some part of each material makes, shape (n,)."""
    trust = weakest(library, "percent")
    return Measure(name, "% w/w", numerator, lowest=0.0, highest=100.0, trust=trust, digits=2)


def amount(library: Library, kind: str, word: str, name: str) -> Measure:
    """Return the % w/w of a material, function, substance or tag."""
    return total(library, name, part(library, kind, word))


def electrolyte(library: Library) -> Measure:
    """Return the % w/w of substances tagged electrolyte, counted inside every material."""
    tagged = library.arrays.substance_has_tag("electrolyte").astype(float)
    return total(library, "electrolyte", library.arrays.per_material(tagged))


def cost(library: Library) -> Measure:
    """Return the cost of the contents per kg of formula."""
    return Measure(
        name="cost",
        unit=f"{library.currency}/kg",
        numerator=library.arrays.price / 100.0,
        better="lower",
        lowest=0.0,
        trust=weakest(library, "price"),
        digits=2,
    )


class Count(Measure):
    """How many materials a formula holds; the program counts choices, so no row over amounts exists."""

    def value(self, amounts: Floats) -> float | None:
        """Return the number of materials used."""
        return float(np.count_nonzero(amounts > 0))

    def row(self, side: Side, bound: float) -> Row:
        """Refuse: a count is limited through the program's choices."""
        raise NotImplementedError("the number of ingredients is limited through the program's choices")

    def contributions(self, amounts: Floats) -> Floats:
        """Return 1 for each material used, shape (n,)."""
        return (amounts > 0).astype(float)


def count(library: Library) -> Count:
    """Return the number of materials."""
    ones = np.ones(len(library.materials))
    return Count("ingredients", "materials", ones, better="lower", lowest=0.0, trust=Trust.OWN, digits=0)


def proportion(top: Measure, bottom: Measure, name: str, unit: str, factor: float = 1.0) -> Measure:
    """Return one total in proportion to another: factor * (n . x) / (d . x)."""
    if top.denominator is not None or bottom.denominator is not None:
        raise ValueError(f"{name}: only totals can be put in proportion")
    if np.any(bottom.numerator < 0):
        raise ValueError(f"{name}: {bottom.name} has negative parts and cannot be a base")
    missing = [measure.missing for measure in (top, bottom) if measure.missing is not None]
    return Measure(
        name=name,
        unit=unit,
        numerator=factor * top.numerator,
        denominator=bottom.numerator,
        lowest=0.0,
        highest=100.0 if unit.startswith("%") else np.inf,
        trust=max(top.trust, bottom.trust, key=lambda trust: trust.rank),
        missing=np.logical_or.reduce(missing) if missing else None,
        digits=1,
    )
