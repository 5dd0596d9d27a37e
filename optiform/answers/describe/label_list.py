"""Returns the ingredient list that the label of a formula would carry."""

from __future__ import annotations

from optiform.brief.models import Brief
from optiform.law import IngredientList, ingredient_list, law_for
from optiform.law.label_entries import label_entries
from optiform.library.models import Library
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats


def label_of(brief: Brief, library: Library, amounts: Floats) -> IngredientList:
    """Return the ingredient list of a formula under a brief's law, fragrance allergens named.

    Parameters
    ----------
    brief : Brief
        Its law, product and day count.
    amounts : ndarray, shape (n,)  [% w/w]
    """
    law = law_for(library, brief.law, brief.on)
    held = {
        material.id: float(amounts[i])
        for i, material in enumerate(library.materials)
        if amounts[i] > ROUNDING
    }
    entries = label_entries(held, library)
    return ingredient_list(entries, brief.law, law.allergens, brief.product, law.on)
