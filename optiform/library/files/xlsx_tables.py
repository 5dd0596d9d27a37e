"""Reads the sheets of a workbook as tables."""

from __future__ import annotations

import datetime
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optiform.faults import Faults
from optiform.library.files.columns import shortened
from optiform.library.files.opening import ROWS, TABLE_BYTES, read_bytes
from optiform.library.files.tables import Columns, RawTable, Table, table_of

WANTED = "an .xlsx workbook"
UNPACKED_BYTES = 128_000_000
COLUMNS = 256
PLACE = re.compile(rb"<(?:\w+:)?(?:row|c)\s(?:[^<>]*?\s)?r=[\"']([A-Za-z]*)(\d*)[\"']")
"""Where a row or a cell says that it stands: ``<row r="12">``, ``<c r="AB12">``."""

FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")
PIECE = 1 << 20
OVERLAP = 256
ERRORS = frozenset(["#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#SPILL!", "#CALC!"])


@dataclass(frozen=True)
class Workbook:
    """The sheets of one workbook as records of text.

    Attributes
    ----------
    file : str
        The workbook as the user named it.
    names : tuple of str
        Every sheet that there is.
    sheets : dict of RawTable
        Records of the sheets that were read, by name.
    """

    file: str
    names: tuple[str, ...]
    sheets: Mapping[str, RawTable]

    def table(self, columns: Columns, faults: Faults) -> Table | None:
        """Return the sheet of a table's name as a table, or None when there is no such sheet."""
        raw = self.sheets.get(columns.table)
        return None if raw is None else table_of(raw, columns, faults)


def read_workbook(
    path: Path, faults: Faults, wanted: Callable[[Sequence[str]], Sequence[str]]
) -> Workbook | None:
    """Read those sheets of a workbook that `wanted` picks by their names; of a formula cell the value calculated last.

    Noted are a file that is no workbook, cells that hold an error, and formula cells that were never calculated.
    """
    import openpyxl

    file = str(path)
    data = read_bytes(path, faults, most=TABLE_BYTES, allowed=WANTED)
    if data is None or not _is_workbook(data, path, faults):
        return None
    sheets: dict[str, RawTable] = {}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            values = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            names = wanted(values.sheetnames)
            surveys = {name: _survey(data, values[name]) for name in names}
            if _too_large(surveys, file, faults):
                return None
            with_formulas = {name for name, survey in surveys.items() if survey.formulas}
            for name in names:
                sheets[name] = _records(values[name], file, faults)
            if with_formulas:
                formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False)
                for name in sorted(with_formulas):
                    _find_uncalculated(values[name], formulas[name], sheets[name], faults)
                formulas.close()
            values.close()
    except Exception as error:  # openpyxl lets through whatever a damaged file makes it stumble over
        message = f"the workbook is damaged and cannot be read ({shortened(str(error))})"
        faults.add("", message, allowed=WANTED, file=file)
        return None
    return Workbook(file, tuple(values.sheetnames), sheets)


def _is_workbook(data: bytes, path: Path, faults: Faults) -> bool:
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        faults.add("", "an old .xls or a password-protected workbook", allowed=WANTED, file=path)
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
            inside = archive.namelist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError):
        faults.add("", "this is no workbook", allowed=WANTED, file=path)
        return False
    if "xl/workbook.xml" not in inside:
        faults.add("", "this is an archive, but no workbook", allowed=WANTED, file=path)
        return False
    if unpacked > UNPACKED_BYTES:
        message, most = f"unpacks to {unpacked / 1e6:,.0f} MB", UNPACKED_BYTES / 1e6
        faults.add("", message, allowed=f"up to {most:.0f} MB; use CSV beyond that", file=path)
        return False
    return True


@dataclass(frozen=True)
class _Survey:
    """What a sheet says of itself before it is read: its last row and column, and whether it has formulas."""

    row: int = 0
    column: int = 0
    formulas: bool = False


def _survey(data: bytes, sheet: Any) -> _Survey:
    """Look through the text of a sheet without taking it apart."""
    part = str(getattr(sheet, "_worksheet_path", "")).lstrip("/")
    row = column = 0
    formulas = not part
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if part not in archive.namelist():
            return _Survey(formulas=True)
        with archive.open(part) as stream:
            tail = b""
            while piece := stream.read(PIECE):
                text = tail + piece
                formulas = formulas or FORMULA.search(text) is not None
                for letters, digits in PLACE.findall(text):
                    row = max(row, int(digits[:12] or 0))
                    column = max(column, _column(letters))
                tail = piece[-OVERLAP:]
    return _Survey(row, column, formulas)


def _column(letters: bytes) -> int:
    """Return the number of a column, A as 1."""
    number = 0
    for letter in letters[:6].upper():
        number = 26 * number + letter - 64
    return number


def _too_large(surveys: Mapping[str, _Survey], file: str, faults: Faults) -> bool:
    """Tell whether a sheet has cells farther out than any table has, and note them."""
    before = len(faults.found)
    for name, survey in surveys.items():
        if survey.row > ROWS:
            allowed = f"up to {ROWS:,} rows; delete what stands far below the table"
            faults.add(f"sheet {name}", f"something stands in row {survey.row:,}", allowed=allowed, file=file)
        if survey.column > COLUMNS:
            allowed = f"up to {COLUMNS} columns; delete what stands far to the right of the table"
            message = f"something stands in column {_letters(survey.column - 1)}"
            faults.add(f"sheet {name}", message, allowed=allowed, file=file)
    return len(faults.found) > before


def _records(sheet: Any, file: str, faults: Faults) -> RawTable:
    """Return the rows of a sheet as text, padded to the width of the header."""
    records: list[tuple[int, list[str]]] = []
    width = 0
    if not hasattr(sheet, "iter_rows"):
        faults.add(f"sheet {sheet.title}", "a chart, not a table", file=file)
        return RawTable(file, sheet.title, [])
    if hasattr(sheet, "reset_dimensions"):
        sheet.reset_dimensions()
    for row, values in enumerate(sheet.iter_rows(values_only=True), start=1):
        record = [_text(value) for value in values]
        while record and not record[-1]:
            record.pop()
        if not record:
            continue
        for column, cell in enumerate(record):
            if cell.startswith("#") and cell in ERRORS:
                where = _place(sheet.title, row, column, records[0][1] if records else ())
                faults.add(where, f"the cell holds the error {cell}", file=file)
                record[column] = ""
        width = width or len(record)
        record += [""] * (width - len(record))
        records.append((row, record))
    return RawTable(file, sheet.title, records)


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(sep=" ")
    return str(value)


def _find_uncalculated(values: Any, formulas: Any, raw: RawTable, faults: Faults) -> None:
    """Note each formula cell that holds no value: a program wrote it and nothing calculated it."""
    header = raw.records[0][1] if raw.records else ()
    for sheet in (values, formulas):
        sheet.reset_dimensions()
    pairs = zip(values.iter_rows(), formulas.iter_rows(), strict=True)
    for row, (cached, written) in enumerate(pairs, start=1):
        for column, (value, formula) in enumerate(zip(cached, written, strict=False)):
            if formula.data_type == "f" and value.value is None and value.data_type not in ("s", "str"):
                place = _place(raw.sheet, row, column, header)
                allowed = "open and save the workbook in a spreadsheet program, or enter the value"
                faults.add(place, "a formula that was never calculated", allowed=allowed, file=raw.file)


def _place(sheet: str, row: int, column: int, header: Sequence[str]) -> str:
    name = header[column] if column < len(header) else ""
    return f"sheet {sheet}, row {row}, " + (f"column {name}" if name else f"cell {_letters(column)}{row}")


def _letters(column: int) -> str:
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
