"""The ingredient list that a formula's label would carry."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from optiform.law import ingredient_list, load_law
from optiform.law.label_entries import label_entries

if TYPE_CHECKING:
    from optiform.brief.models import Brief
    from optiform.law import IngredientList
    from optiform.library.arrays import Floats


def label_of(brief: Brief, amounts: Floats) -> IngredientList:
    """Return the ingredient list of a formula under a brief's law, fragrance allergens named.

    Parameters
    ----------
    brief : Brief
        Its place, product and day count; a brief without law is read as one for the EU.
    amounts : ndarray, shape (n,)  [% w/w]
    """
    place = "EU" if brief.law == "none" else brief.law
    law = load_law(place, None, brief.on)
    held = {
        material.id: float(amounts[i]) for i, material in enumerate(brief.library.materials) if amounts[i] > 0
    }
    entries = label_entries(held, brief.library)
    return ingredient_list(entries, place, law.allergens, brief.product, brief.on or date.today())
