"""Turns a formula into sheets for the bench: weighing, batch record, label, unit cost, shopping list."""

from optiform.sheets.label_sheet import label_sheet
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.sheets.purchase.plan import Plan, load_plan
from optiform.sheets.purchase.shopping import Make, Shopping, shopping
from optiform.sheets.sheet import PARTS, Sheet, make_sheet
from optiform.sheets.unit import Unit, load_unit, unit_from
from optiform.sheets.unit_cost import grams_for_one, unit_cost
from optiform.sheets.weighable import read_weighable_formula

__all__ = [
    "PARTS",
    "Make",
    "Offer",
    "Plan",
    "Sheet",
    "Shopping",
    "Supplier",
    "Unit",
    "grams_for_one",
    "label_sheet",
    "load_plan",
    "load_unit",
    "make_sheet",
    "read_weighable_formula",
    "shopping",
    "unit_cost",
    "unit_from",
]
