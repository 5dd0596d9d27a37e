"""What the law of a place allows and what its labels must say: dated, sourced, replaceable data."""

from optiform.law.claims import claim_cautions
from optiform.law.label import IngredientList, LabelEntry, ingredient_list
from optiform.law.limits import ApplicableLimit, applicable, conditions
from optiform.law.models import Law
from optiform.law.positive import Unlisted, unlisted
from optiform.law.reading import law_for, load_law, shipped_molar_masses
from optiform.law.shipped import particulars

__all__ = [
    "ApplicableLimit",
    "IngredientList",
    "LabelEntry",
    "Law",
    "Unlisted",
    "applicable",
    "claim_cautions",
    "conditions",
    "ingredient_list",
    "law_for",
    "load_law",
    "particulars",
    "shipped_molar_masses",
    "unlisted",
]
