"""Workbooks that unpack to too much, have cells far out, or are damaged."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from random import Random

import openpyxl

from tests.fuzz.kinds.case import Case

SHEET = "xl/worksheets/sheet1.xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def _row(number: int | str, *cells: str, first: str = "A") -> str:
    columns = (first, *"BCD")
    inside = "".join(
        f'<c r="{column}{number}" t="inlineStr"><is><t>{cell}</t></is></c>'
        for column, cell in zip(columns, cells, strict=False)
    )
    return f'<row r="{number}">{inside}</row>'


HEADER = _row(1, "material", "percent")


def _workbook(rows: str, more: Mapping[str, bytes] | None = None) -> bytes:
    """Return a workbook whose one sheet says just this."""
    book, raw, out = openpyxl.Workbook(), io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name != SHEET:
                new.writestr(name, old.read(name))
        new.writestr(SHEET, f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>')
        for name, content in (more or {}).items():
            new.writestr(name, content)
    return out.getvalue()


def workbook(random: Random) -> Case:
    """A workbook that unpacks to too much, has cells far out, or is damaged."""
    sound = _workbook(HEADER + _row(2, "water", "100"))
    content = random.choice(
        (
            lambda: _workbook(HEADER, {"xl/junk.bin": bytes(200_000_000)}),
            lambda: _workbook(HEADER + _row(1_048_576, "water", "100")),
            lambda: _workbook(HEADER + _row(10**15, "water", "100")),
            lambda: _workbook(HEADER + _row("9" * 5000, "water", "100")),
            lambda: _workbook(HEADER + _row(2, "water", first="XFD")),
            lambda: _workbook(HEADER + "<row r='2'><c"),
            lambda: _workbook(HEADER + _row(2, "water", "&amp;#27;")),
            lambda: sound[: random.randrange(len(sound))],
            lambda: random.randbytes(20) + sound[20:-30],
        )
    )()
    return Case(("evaluate", "today.xlsx", "--library", "lib"), {"today.xlsx": content}, names="today.xlsx")
