"""Defines the JSON documents of sheets and shopping lists."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from optiform.library.typed.matching import Match
from optiform.sheets.purchase.shopping import Shopping
from optiform.sheets.sheet import Sheet
from optiform.views.data.document import Document


class Sheets(Document):
    """The sheets of a formula; parts that were not asked for are null."""

    absent: ClassVar = {"matched": ("matched",)}
    question: Literal["sheet"] = "sheet"
    status: Literal["solved"] = "solved"
    sheet: Sheet
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    matched: tuple[Match, ...] = ()

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        sheet, matched = value
        return {"sheet": sheet, "notes": sheet.notes, "cautions": sheet.cautions, "matched": matched}


class Shop(Document):
    """A shopping list, proven best or stopped."""

    question: Literal["shop"] = "shop"
    status: Literal["solved", "stopped"]
    proven: bool
    shopping: Shopping
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        found, cautions = value
        status = "stopped" if found.gap else "solved"
        told = {"notes": found.notes, "cautions": cautions}
        return {"status": status, "proven": not found.gap, "shopping": found, **told}
