"""From a formula to the bench: weighing, batch record, label, unit cost, shopping."""

from optiform.sheets.label_sheet import LabelSheet, label_sheet
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.sheets.purchase.plan import Plan, load_plan
from optiform.sheets.purchase.shopping import Make, Shopping, shopping
from optiform.sheets.record.batch import Batch, Weighing, weigh
from optiform.sheets.record.batch_record import BatchRecord, batch_record
from optiform.sheets.record.making import procedure_of
from optiform.sheets.record.steps import Procedure, Step
from optiform.sheets.sheet import PARTS, Sheet, make_sheet
from optiform.sheets.source import read_weighable_formula
from optiform.sheets.unit import Packaging, Unit, load_unit, unit_from
from optiform.sheets.unit_cost import UnitCost, unit_cost

__all__ = [
    "PARTS",
    "Batch",
    "BatchRecord",
    "LabelSheet",
    "Make",
    "Offer",
    "Packaging",
    "Plan",
    "Procedure",
    "Sheet",
    "Shopping",
    "Step",
    "Supplier",
    "Unit",
    "UnitCost",
    "Weighing",
    "batch_record",
    "label_sheet",
    "load_plan",
    "load_unit",
    "make_sheet",
    "procedure_of",
    "read_weighable_formula",
    "shopping",
    "unit_cost",
    "unit_from",
    "weigh",
]
