"""The sheets as CSV: one table per part; all parts together as part, item, field, value."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.data.csv_table import table
from optiform.views.words.sheet_words import packs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.sheets.label_sheet import LabelSheet
    from optiform.sheets.purchase.shopping import Shopping
    from optiform.sheets.record.batch import Batch
    from optiform.sheets.sheet import Sheet
    from optiform.sheets.unit_cost import UnitCost
    from optiform.views.words.blocks import Cell

    Row = tuple[Cell, ...]

BATCH = (
    "phase", "material", "name", "function", "percent", "grams", "weighed_percent", "too_light", "hazards",
    "lot", "expiry", "actual_g", "weighed_by", "checked_by",
)  # fmt: skip
LABEL = ("place", "name", "inci", "us_name", "percent", "low", "high", "order", "allergen")
COST = ("part", "per_unit", "share_percent", "currency", "how")
SHOPPING = (
    "material", "name", "needed_g", "stock_g", "to_buy_g", "packs", "supplier", "bought_g", "left_g", "cash",
    "consumed", "left_value", "currency",
)  # fmt: skip
ALL = ("part", "item", "field", "value")
TO_FILL = ("lot", "expiry", "actual_g", "weighed_by", "checked_by")


def sheet_table(sheet: Sheet) -> str:
    """Return a sheet as CSV: its one part as that part's table, several as part, item, field, value.

    A part by itself has no place for cautions and for what the formula breaks; all parts together have.
    """
    parts = tables_of(sheet)
    if len(parts) == 1:
        ((columns, rows),) = parts.values()
        return table(columns, rows)
    return table(
        ALL,
        [
            (part, row[_key(columns)], column, cell)
            for part, (columns, rows) in parts.items()
            for row in rows
            for place, (column, cell) in enumerate(zip(columns, row, strict=True))
            if place != _key(columns) and cell not in ("", None) and column not in TO_FILL
        ]
        + [
            (part, number, "text", told)
            for part, texts in (("breaks", sheet.breaks), ("cautions", sheet.cautions))
            for number, told in enumerate(texts, 1)
        ],
    )


def _key(columns: Sequence[str]) -> int:
    """Return the column that names the rows of a table."""
    return next(columns.index(name) for name in ("material", "name", "part") if name in columns)


def tables_of(sheet: Sheet) -> dict[str, tuple[tuple[str, ...], list[Row]]]:
    """Return the columns and rows of each part that the sheet has."""
    found: dict[str, tuple[tuple[str, ...], list[Row]]] = {}
    if sheet.batch is not None:
        found["batch"] = (BATCH, batch_rows(sheet.batch.batch))
    if sheet.label is not None:
        found["label"] = (LABEL, label_rows(sheet.label))
    if sheet.cost is not None:
        found["cost"] = (COST, cost_rows(sheet.cost))
    if sheet.shopping is not None:
        found["shopping"] = (SHOPPING, shopping_rows(sheet.shopping))
    return found


def batch_rows(batch: Batch) -> list[Row]:
    """Return the weighing table with its blanks."""
    return [
        (
            line.phase, line.material, line.name, line.function, line.percent, line.grams, line.weighed_percent,
            "yes" if line.too_light else "no", " ".join(line.hazards), "", "", "", "", "",
        )
        for line in batch.lines
    ]  # fmt: skip


def label_rows(label: LabelSheet) -> list[Row]:
    """Return the names of the ingredient list in their order."""
    return [
        (
            place, line.name, line.inci, line.us_name, line.percent, line.low, line.high, line.part,
            "yes" if line.is_allergen else "no",
        )
        for place, line in enumerate(label.lines, 1)
    ]  # fmt: skip


def cost_rows(cost: UnitCost) -> list[Row]:
    """Return the parts of a unit's cost and their total."""
    rows: list[Row] = [(p.part, p.per_unit, p.share_percent, cost.currency, p.how) for p in cost.parts]
    return [*rows, ("total", cost.total, 100.0, cost.currency, "")]


def shopping_rows(found: Shopping) -> list[Row]:
    """Return what to buy, one material per row, and the charges for delivery."""
    rows: list[Row] = [
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
    return rows


def shopping_table(found: Shopping) -> str:
    """Return a shopping list as CSV."""
    return table(SHOPPING, shopping_rows(found))
