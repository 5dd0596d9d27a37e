"""Makes the sheets of one formula: batch record, label, unit cost and shopping list."""

from __future__ import annotations

from collections.abc import Collection
from typing import Literal, get_args

from pydantic import Field

from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Acidity
from optiform.brief.models import Brief, Weighing
from optiform.brief.stated_brief import stated_brief
from optiform.faults import BadInput, Fault
from optiform.library.formulas import TypedFormula
from optiform.library.models import Frozen, Library
from optiform.mappings import FrozenDict, FrozenMap
from optiform.sheets.cautions import cautions_of
from optiform.sheets.label_sheet import LabelSheet, estimated_density, label_sheet
from optiform.sheets.purchase.shopping import Make, Shopping, shopping, stock_of
from optiform.sheets.record.batch_record import BatchRecord, batch_record
from optiform.sheets.record.card import Card, card_of
from optiform.sheets.record.weighing import weighed_batch
from optiform.sheets.unit import Unit
from optiform.sheets.unit_cost import UnitCost, unit_cost
from optiform.sheets.weighable import refuse_total
from optiform.showing import Showing

SheetPart = Literal["card", "batch", "label", "cost", "shopping"]
EVERY_PART = ", ".join(get_args(SheetPart))
PARTS: tuple[SheetPart, ...] = ("batch", "label", "cost", "shopping")


class Sheet(Showing, Frozen):
    """What `optiform sheet` hands over; a part that was not asked for is None.

    Attributes
    ----------
    breaks : tuple of str
        What the formula breaks in library, law and brief, in the words of the requirement.
    names : mapping of str to str
        Of the materials in it, by their ids.
    """

    title: str
    library: str
    currency: str
    batch_g: float
    cost_per_kg: float
    card: Card | None = None
    batch: BatchRecord | None = None
    label: LabelSheet | None = None
    cost: UnitCost | None = None
    shopping: Shopping | None = None
    breaks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    names: FrozenMap[str, str] = Field(default_factory=FrozenDict)


NO_UNIT = "No unit file was given, so there is no cost sheet: name one with --unit."


def make_sheet(
    formula: TypedFormula,
    library: Library,
    batch_g: float,
    *,
    brief: Brief | None = None,
    balance_g: float | None = None,
    unit: Unit | None = None,
    unit_file: str = "",
    parts: Collection[SheetPart] = PARTS,
) -> Sheet:
    """Return the sheets of a formula.

    Parameters
    ----------
    formula : TypedFormula
        Adding up to 100 within 0.005.
    library : Library
        The brief's own, where there is a brief.
    brief : Brief, optional
        Adds its targets, rules, law, product and area; without one what the formula's file states counts.
    balance_g : float, optional  [g]
        Readability of the balance; the brief's own, or 0.01, by default.
    unit : Unit, optional
        What a unit holds and costs; without it there is no cost sheet.
    parts : collection of str
        card, batch, label, cost, shopping.

    Raises
    ------
    BadInput
        A total off 100; a cost sheet asked for alone without a unit; a batch that fills no unit.
    """
    _refuse(formula, unit, parts)
    asked = brief or stated_brief(formula, library)
    amounts = {name: percent for name, percent in formula.lines if percent > 0}
    (judged,) = evaluate(formula, library, brief).formulas
    acidity, record = judged.acidity, None
    ready = () if acidity is None else acidity.have_ready
    lacking = (NO_UNIT,) if "cost" in parts and unit is None else ()
    if {"batch", "card"} & set(parts):
        record = _record(formula, asked, batch_g, balance_g, acidity, unit)
    return Sheet(
        title=asked.title if brief is not None else (formula.name or "a formula"),
        library=library.name,
        currency=library.currency,
        batch_g=batch_g,
        cost_per_kg=judged.cost,
        card=card_of(record, asked, acidity) if record is not None and "card" in parts else None,
        batch=record if "batch" in parts else None,
        label=label_sheet(amounts, library, asked, unit) if "label" in parts else None,
        cost=unit_cost(amounts, library, unit, batch_g, estimated_density(amounts, library), unit_file)
        if unit and "cost" in parts
        else None,
        shopping=_shopping(formula, library, batch_g, asked, acidity) if "shopping" in parts else None,
        breaks=tuple(f"{item.requirement.title}: {item.message}" for item in judged.breaks),
        notes=tuple(dict.fromkeys((*formula.notes, *lacking, *judged.notes))),
        cautions=cautions_of((*amounts, *(dose.material for dose in ready)), library),
        names=FrozenDict({name: library.material[name].name for name in amounts}),
    )


def _refuse(formula: TypedFormula, unit: Unit | None, parts: Collection[SheetPart]) -> None:
    refuse_total(formula)
    unknown = [part for part in parts if part not in get_args(SheetPart)]
    if unknown:
        raise BadInput([Fault("", "parts", f"there is no part '{part}'", EVERY_PART) for part in unknown])
    if "cost" in parts and unit is None and len(parts) == 1:
        raise BadInput([Fault("", "--unit", "missing for a cost sheet", "a TOML file with a table [unit]")])


def _record(
    formula: TypedFormula,
    brief: Brief,
    batch_g: float,
    balance_g: float | None,
    acidity: Acidity | None,
    unit: Unit | None,
) -> BatchRecord:
    weighing = brief.weighing or Weighing()
    if balance_g is not None:
        weighing = weighing.model_copy(update={"balance_g": balance_g})
    batch = weighed_batch(formula, brief, batch_g, weighing)
    title, version = brief.title, formula.name
    return batch_record(batch, brief.library, brief, acidity, title=title, formula=version, unit=unit)


def _shopping(
    formula: TypedFormula, library: Library, batch_g: float, brief: Brief, acidity: Acidity | None
) -> Shopping:
    """Return what to buy for a batch and for the most acid or base to keep ready."""
    stock = brief.shelf if brief.shelf is not None else stock_of(library)
    beside = () if acidity is None else acidity.have_ready
    lines = (*formula.lines, *((dose.material, dose.high) for dose in beside))
    make = Make(title=formula.name, lines=lines, batch_g=batch_g)
    found = shopping([make], library, stock=stock)
    told = tuple(f"To have ready beside the formula, no line of it: {dose.name}." for dose in beside)
    return found.model_copy(update={"title": formula.name, "notes": (*found.notes, *told)})
