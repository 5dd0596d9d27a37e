"""Writes sheets as a workbook in which the grams follow the batch size."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

from optiform.faults import FORMULA_MARKS, printable
from optiform.sheets.purchase.shopping import Shopping
from optiform.sheets.record.batch import Batch
from optiform.sheets.record.batch_record import BatchRecord, Part
from optiform.sheets.sheet import Sheet
from optiform.views.results.sheet_rows import cost_rows, label_rows, shopping_rows
from optiform.views.words import sheet_words as words
from optiform.views.words.numbers import fixed

FIXED_DAY = datetime.datetime(2000, 1, 1)
HEAD_ROW = 7
WEIGH = (
    "phase", "material", "name", "% w/w formula", "% w/w weighed", "target g", "too light?", "lot", "expiry",
    "actual g", "weighed by", "checked by",
)  # fmt: skip
WIDTHS = {"name": 42, "how": 60, "what": 70, "why": 60, "inci": 36, "us_name": 40, "packs": 24, "text": 90}


class Book:
    """A workbook while it is written; no text is taken for a formula."""

    def __init__(self) -> None:
        from openpyxl import Workbook

        self.book = Workbook()
        self.book.remove(self.book.active)

    def sheet(self, title: str) -> Any:
        """Add a worksheet that prints one page wide."""
        sheet = self.book.create_sheet(title)
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        return sheet

    def put(self, sheet: Any, row: int, cells: Sequence[object], *, bold: bool = False) -> None:
        """Write one row; a text that begins like a formula stays a text."""
        from openpyxl.styles import Alignment, Font

        for column, value in enumerate(cells, 1):
            cell = sheet.cell(row=row, column=column)
            text = printable(value) if isinstance(value, str) else None
            cell.value = None if value in ("", None) else text or value
            if text:
                cell.data_type, cell.quotePrefix = "s", text.startswith(FORMULA_MARKS)
                cell.alignment = Alignment(wrap_text=True, vertical="top")
            if bold:
                cell.font = Font(bold=True)

    def formula(self, sheet: Any, place: str, text: str, style: str = "General") -> None:
        """Write a live formula."""
        sheet[place] = text
        sheet[place].number_format = style

    def table(self, sheet: Any, row: int, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> int:
        """Write a table and return the row after it."""
        from openpyxl.utils import get_column_letter

        self.put(sheet, row, columns, bold=True)
        for place, name in enumerate(columns, 1):
            width = sheet.column_dimensions[get_column_letter(place)]
            width.width = max(width.width or 0, WIDTHS.get(name, 13))
        for cells in rows:
            row += 1
            self.put(sheet, row, cells)
        return row + 2

    def lines(self, sheet: Any, row: int, title: str, texts: Iterable[str]) -> int:
        """Write texts below each other under a title and return the row after them."""
        from openpyxl.styles import Alignment

        found = list(texts)
        if not found:
            return row
        self.put(sheet, row, (title,), bold=True)
        for text in found:
            row += 1
            self.put(sheet, row, (text,))
            sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=8)
            sheet.cell(row=row, column=1).alignment = Alignment(wrap_text=True, vertical="top")
            sheet.row_dimensions[row].height = 15 * (1 + len(text) // 110)
        return row + 2

    def bytes(self) -> bytes:
        """Return the file, the same on every run: without the moment of writing."""
        self.book.properties.created = FIXED_DAY
        self.book.properties.creator = "optiform"
        raw = io.BytesIO()
        self.book.save(raw)
        out = io.BytesIO()
        with zipfile.ZipFile(raw) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
            for name in old.namelist():
                content = old.read(name)
                if name == "docProps/core.xml":
                    content = re.sub(
                        rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>2000-01-01T00:00:00Z", content
                    )
                new.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
        return out.getvalue()


def workbook(sheet: Sheet) -> bytes:
    """Return the parts of a sheet as the bytes of an .xlsx file; every worksheet carries the cautions."""
    book = Book()
    if sheet.batch is not None:
        _weigh(book, sheet.batch.batch, sheet)
        _record(book, sheet.batch, sheet)
    if sheet.label is not None:
        page = book.sheet("Label")
        row = book.lines(page, 1, f"{sheet.title}: label", (words.rule(sheet.label), sheet.label.listed.text))
        row = book.table(page, row, *label_rows(sheet.label))
        told = (
            words.one_percent_line(sheet.label.listed),
            words.natural(sheet.label),
            words.contents(sheet.label.contents),
        )
        row = book.lines(page, row, "Order, origin, content", (text for text in told if text))
        row = book.lines(page, row, "Where a lot may change the list", (d.text for d in sheet.label.doubts))
        row = book.lines(page, row, words.CONDITIONS, words.conditions(sheet.label))
        rows = [(blank.title, blank.hint, blank.provision, "") for blank in sheet.label.blanks]
        row = book.table(page, row, ("to fill in or settle", "look at", "where", "filled in"), rows)
        row = book.lines(page, row, "Notes", sheet.label.notes)
        _warnings(book, page, row, sheet)
    if sheet.cost is not None:
        page = book.sheet("Unit cost")
        row = book.lines(page, 1, f"{sheet.title}: unit cost", (words.unit_line(sheet.cost),))
        row = book.table(page, row, *cost_rows(sheet.cost))
        row = book.lines(page, row, "What the contents may cost", words.ceiling(sheet.cost))
        sizes = (
            "batch_g", "units", "contents", "packaging", "labour", "tests", "overhead", "total", "left_over_g",
        )  # fmt: skip
        rows = [tuple(getattr(scenario, name) for name in sizes) for scenario in sheet.cost.scenarios]
        row = book.table(page, row, sizes, rows) if rows else row
        row = book.lines(page, row, "Notes", sheet.cost.notes)
        _warnings(book, page, row, sheet)
    if sheet.shopping is not None:
        _shopping(book, sheet.shopping, sheet.cautions, sheet.breaks)
    if sheet.batch is not None:  # the formula, hidden, as every command reads it
        page = book.sheet("formula")
        page.sheet_state = "hidden"
        lines = ((line.material, line.percent, line.name) for line in sheet.batch.batch.lines)
        book.table(page, 1, ("material", "percent", "name"), lines)
    return book.bytes()


def records_workbook(sheets: Sequence[Sheet]) -> bytes:
    """Return several batch records as the bytes of one .xlsx file."""
    book = Book()
    for number, sheet in enumerate(sheets, 1):
        if sheet.batch is not None:
            _weigh(book, sheet.batch.batch, sheet, f"Weigh {number}")
            _record(book, sheet.batch, sheet, f"Record {number}", f"'Weigh {number}'")
    return book.bytes()


def shopping_workbook(found: Shopping, cautions: tuple[str, ...]) -> bytes:
    """Return a shopping list as the bytes of an .xlsx file."""
    book = Book()
    _shopping(book, found, cautions)
    return book.bytes()


def _weigh(book: Book, batch: Batch, sheet: Sheet, name: str = "Weigh") -> None:
    """Write the weighing table; the grams follow the batch size, water takes the difference."""
    from openpyxl.styles import PatternFill

    page = book.sheet(name)
    book.put(page, 1, (f"{sheet.title}: weighing",), bold=True)
    book.put(page, 2, ("batch, g", batch.batch_g))
    book.put(page, 3, ("balance, g", batch.balance_g))
    book.put(page, 4, ("error allowed, %", batch.error_percent))
    book.put(page, 5, ("Change the marked cells: the grams follow, and one line takes the difference.",))
    for marked in ("B2", "B3", "B4"):
        page[marked].fill = PatternFill("solid", fgColor="FFF2CC")
    first, last = HEAD_ROW + 1, HEAD_ROW + len(batch.lines)
    rows = [
        (line.phase, line.material, words.named(line.name, line.hazards), line.percent, line.weighed_percent)
        for line in batch.lines
    ]
    row = book.table(page, HEAD_ROW, WEIGH, rows)
    shown = "0." + "0" * batch.digits if batch.digits else "0"
    for place, line in enumerate(batch.lines, first):
        if line.material == batch.by_difference:
            others = [f"F{n}" for n in range(first, last + 1) if n != place]
            rest = f"-SUM({','.join(others)})" if others else ""
            text = f"=ROUND(ROUND($B$2/$B$3,0)*$B$3{rest},6)"
        else:
            text = f"=ROUND(ROUND(E{place}*$B$2/100/$B$3,0)*$B$3,6)"
        book.formula(page, f"F{place}", text, shown)
        book.formula(page, f"G{place}", f'=IF(F{place}<$B$3/2/($B$4/100),"too light","")')
    book.put(page, last + 1, ("", "", "total"), bold=True)
    for letter, style in (("D", "0.00"), ("E", "0.00"), ("F", shown)):
        book.formula(page, f"{letter}{last + 1}", f"=SUM({letter}{first}:{letter}{last})", style)
    row = book.lines(page, row + 1, "Notes", batch.notes)
    _warnings(book, page, row, sheet)


def _record(
    book: Book, record: BatchRecord, sheet: Sheet, name: str = "Record", weighed: str = "Weigh"
) -> None:
    """Write the batch record: blanks before, steps, blanks after."""
    page = book.sheet(name)
    book.put(page, 1, (f"{sheet.title}: batch record",), bold=True)
    warning = (
        f"The words and grams below hold for {record.batch.batch_g:g} g; for another size make a new sheet."
    )
    book.formula(page, "A2", f'=IF({weighed}!$B$2={record.batch.batch_g!r},"","{warning}")')
    row = 4
    for part in record.before:
        row = _blanks(book, page, row, part)
    columns = ("step", "name", "what", "why", *(blank.title for blank in record.per_step))
    rows = []
    for step in record.procedure.steps:
        taken = "\n".join(
            f"{fixed(p.grams, record.batch.digits)} g {words.named(p.name, p.hazards)}" for p in step.portions
        )
        what = f"{taken}\n{step.what}" if taken else step.what
        rows.append((step.number, words.step_title(step), what, step.why, *("" for _ in record.per_step)))
    row = book.table(page, row, columns, rows)
    for part in record.after:
        row = _blanks(book, page, row, part)
    row = book.lines(page, row, "Notes", record.notes)
    _warnings(book, page, row, sheet)


def _blanks(book: Book, page: Any, row: int, part: Part) -> int:
    book.put(page, row, (part.title,), bold=True)
    if part.rows > 1:
        titles = [blank.title for blank in part.blanks]
        return book.table(page, row + 1, titles, [("",) * len(titles)] * part.rows)
    rows = [("", b.label, b.wanted, "") for b in part.blanks]
    return book.table(page, row + 1, ("", "name", "limit, or computed", "result"), rows)


def _warnings(book: Book, page: Any, row: int, sheet: Sheet) -> None:
    """Write what the formula breaks, and the cautions."""
    row = book.lines(page, row, words.breaks(sheet.breaks), sheet.breaks)
    book.lines(page, row, "Cautions", sheet.cautions)


def _shopping(book: Book, found: Shopping, cautions: tuple[str, ...], breaks: tuple[str, ...] = ()) -> None:
    page = book.sheet("Shopping")
    made = tuple(words.made(make) for make in found.makes)
    row = book.lines(page, 1, f"{found.title or 'Plan'}: shopping", (*made, words.shopping_summary(found)))
    first = row + 1
    row = book.table(page, row, *shopping_rows(found))
    book.put(page, row - 1, ("", "total"), bold=True)
    for column in ("J", "K", "L"):
        book.formula(page, f"{column}{row - 1}", f"=SUM({column}{first}:{column}{row - 2})", "0.00")
    names = {line.material: line.name for line in found.lines}
    misses = (words.near_miss(miss, names[miss.material], found.currency) for miss in found.near_misses)
    row = book.lines(page, row + 1, "Nearly a pack less", misses)
    row = book.lines(page, row, "Notes", found.notes)
    row = book.lines(page, row, words.breaks(breaks), breaks)
    book.lines(page, row, "Cautions", cautions)
