"""Turns sheets into CSV rows with every digit: one table per part, or all parts in one."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.sheets.label_sheet import LabelSheet
from optiform.sheets.purchase.shopping import Shopping
from optiform.sheets.record.batch import Batch
from optiform.sheets.sheet import Sheet
from optiform.sheets.unit_cost import UnitCost
from optiform.views.words.blocks import Cell, Rows
from optiform.views.words.sheet_words import packs

TO_FILL = ("lot", "expiry", "actual_g", "weighed_by", "checked_by")


def sheet_rows(sheet: Sheet) -> Rows:
    """Return a sheet as rows: the table of its one part, or part, item, field and value for several.

    A part by itself has no place for cautions and for what the formula breaks; all parts together have.
    """
    parts: dict[str, Rows] = {}
    if sheet.batch is not None:
        parts["batch"] = batch_rows(sheet.batch.batch)
    if sheet.label is not None:
        parts["label"] = label_rows(sheet.label)
    if sheet.cost is not None:
        parts["cost"] = cost_rows(sheet.cost)
    if sheet.shopping is not None:
        parts["shopping"] = shopping_rows(sheet.shopping)
    if len(parts) == 1:
        return next(iter(parts.values()))
    told: list[tuple[Cell, ...]] = [
        (part, number, "text", text)
        for part, texts in (("breaks", sheet.breaks), ("cautions", sheet.cautions))
        for number, text in enumerate(texts, 1)
    ]
    return ("part", "item", "field", "value"), [
        *((part, row[_key(columns)], column, cell) for part, (columns, rows) in parts.items() for row in rows
          for column, cell in zip(columns, row, strict=True) if _stands(columns, column, cell)),
        *told,
    ]  # fmt: skip


def _key(columns: Sequence[str]) -> int:
    """Return the column that names the rows of a table."""
    return next(columns.index(name) for name in ("material", "name", "part") if name in columns)


def _stands(columns: Sequence[str], column: str, cell: Cell) -> bool:
    """Tell whether a cell is filled."""
    return column != columns[_key(columns)] and cell not in ("", None) and column not in TO_FILL


def batch_rows(batch: Batch) -> Rows:
    """Return the weighing table with its blanks."""
    told = ("phase", "material", "name", "function", "percent", "grams", "weighed_percent")
    return (*told, "too_light", "hazards", *TO_FILL), [
        (
            *(getattr(line, name) for name in told),
            "yes" if line.too_light else "no",
            " ".join(line.hazards),
            *("" for _ in TO_FILL),
        )
        for line in batch.lines
    ]


def label_rows(label: LabelSheet) -> Rows:
    """Return the names of the ingredient list in their order."""
    told = ("name", "inci", "us_name", "percent", "low", "high")
    return ("place", *told, "order", "allergen"), [
        (place, *(getattr(line, name) for name in told), line.part, "yes" if line.is_allergen else "no")
        for place, line in enumerate(label.lines, 1)
    ]


def cost_rows(cost: UnitCost) -> Rows:
    """Return the parts of a unit's cost and their total."""
    return ("part", "per_unit", "share_percent", "currency", "how"), [
        *((p.part, p.per_unit, p.share_percent, cost.currency, p.how) for p in cost.parts),
        ("total", cost.total, 100.0, cost.currency, ""),
    ]


def shopping_rows(found: Shopping) -> Rows:
    """Return what to buy, one material per row, and the charges for delivery."""
    columns = (
        "material", "name", "needed_g", "stock_g", "to_buy_g", "packs", "supplier", "bought_g", "left_g", "cash",
        "consumed", "left_value", "currency",
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = [
        (
            line.material, line.name, line.needed_g, line.stock_g, line.to_buy_g, packs(line.packs),
            ", ".join(dict.fromkeys(bought.offer.supplier for bought in line.packs)), line.bought_g, line.left_g,
            line.cash, line.consumed, line.left_value, found.currency,
        )
        for line in found.lines
    ]  # fmt: skip
    rows += [
        ("", "delivery", "", "", "", "", o.supplier, "", "", o.delivery, o.delivery, 0.0, found.currency)
        for o in found.orders
        if o.delivery
    ]
    return columns, rows
