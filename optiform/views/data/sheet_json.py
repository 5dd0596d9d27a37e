"""The sheets as one JSON document: every value, every digit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.data.json_document import document

if TYPE_CHECKING:
    from optiform.library.typed.matching import Match
    from optiform.sheets.purchase.shopping import Shopping
    from optiform.sheets.sheet import Sheet


def sheet_document(sheet: Sheet, matched: tuple[Match, ...] = ()) -> str:
    """Return a sheet as JSON text, with what typed names were taken for; parts that were not asked for are null."""
    content = {"status": "solved", "sheet": sheet, "notes": sheet.notes, "cautions": sheet.cautions}
    if matched:
        content["matched"] = matched
    return document("sheet", content)


def shopping_document(found: Shopping, cautions: tuple[str, ...]) -> str:
    """Return a shopping list as JSON text."""
    content = {
        "status": "stopped" if found.gap else "solved",
        "proven": not found.gap,
        "shopping": found,
    }
    return document("shop", {**content, "notes": found.notes, "cautions": cautions})
