"""Cost of the contents."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.measures.measure import Measure
from optiform.measures.parts import weakest

if TYPE_CHECKING:
    from optiform.library.models import Library


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
