"""Reads a filled batch record: grams weighed, lots and readings."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path

from optiform.faults import BadInput, Fault, Faults
from optiform.library.files.columns import number
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.opening import TABLE_BYTES, read_text
from optiform.library.typed.formula_table import COLUMNS
from optiform.mappings import FrozenDict, FrozenMap
from optiform.sheets.record.batch_record import BatchRecord
from optiform.sheets.record.filled_workbook import read_filled_workbook

WANTED = (
    "a record saved by the page, or one of `sheet --part batch --format csv` or `sheet --xlsx`, filled in"
)
ACTUAL = "actual_g"


@dataclass(frozen=True)
class FilledLine:
    """One line of a filled weighing table.

    Attributes
    ----------
    material : str
        Id.
    target_g : float, optional  [g]
        What was to be weighed; None for a line that was added by hand.
    actual : str
        What was written under "actual", as it stands there.
    adjusts : bool
        It is dosed by the meter, so that another amount than the target is no surprise.
    """

    material: str
    target_g: float | None
    actual: str
    lot: str = ""
    adjusts: bool = False
    place: str = ""


@dataclass(frozen=True)
class FilledRecord:
    """A record with its entries.

    Attributes
    ----------
    file : str
        As the user named it.
    lines : tuple of FilledLine
    entries : mapping of str to str
        What stands in the other blanks, by part and key: "identity/made on", "in process/pH after".
    comma_decimals : bool
        Its columns are apart by semicolons, so that a comma is a decimal point.
    """

    file: str
    lines: tuple[FilledLine, ...]
    entries: FrozenMap[str, str] = field(default_factory=FrozenDict)
    comma_decimals: bool = False


def read_filled(path: str | Path) -> FilledRecord:
    """Read a filled batch record: the page's file, the workbook, or the weighing table as CSV.

    Raises
    ------
    BadInput
        A file that is neither.
    """
    path = Path(path)
    if path.suffix.lower() == ".xlsx":
        return _from_workbook(path)
    if path.suffix.lower() != ".json":
        return _from_table(path)
    faults = Faults(str(path))
    text = read_text(path, faults, most=TABLE_BYTES, allowed=WANTED)
    faults.raise_if_any()
    record, filled = opened_record(text or "", str(path))
    lines = tuple(
        FilledLine(
            line.material, line.grams, filled.get(f"weigh/{line.material}/actual", ""),
            filled.get(f"weigh/{line.material}/lot", ""), line.phase == "adjust", f"Weigh, {line.name}",
        )
        for line in record.batch.lines
    )  # fmt: skip
    return FilledRecord(str(path), lines, FrozenDict(filled))


def opened_record(text: str, name: str) -> tuple[BatchRecord, dict[str, str]]:
    """Return the record that the page keeps in a file, and its entries by the name of their blank.

    Raises
    ------
    BadInput
        A file that is no such record.
    """
    from pydantic import ValidationError

    try:
        keys = json.loads(text)
        record = BatchRecord.model_validate_json(json.dumps(keys["record"]))
        filled = {str(key): str(value) for key, value in keys["filled"].items()}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, ValidationError):
        raise BadInput([Fault(name, "", "this is no batch record", WANTED)]) from None
    return record, filled


def is_filled(path: str | Path) -> bool:
    """Tell whether a file is a weighing table, or a workbook with one, with an entry under "actual"."""
    path = Path(path)
    if path.suffix.lower() == ".json":
        return False
    if path.suffix.lower() == ".xlsx":
        book = read_filled_workbook(path, Faults())
        return book is not None and any(row.actual for row in book.rows)
    table = read_csv(path, COLUMNS, Faults())
    return table is not None and any(table.cells.get(ACTUAL, ()))


def _from_workbook(path: Path) -> FilledRecord:
    faults = Faults(str(path))
    book = read_filled_workbook(path, faults)
    faults.raise_if_any()
    assert book is not None
    lines = tuple(
        FilledLine(row.material, row.target_g, row.actual, row.lot, row.phase == "adjust", row.place)
        for row in book.rows
    )
    return FilledRecord(str(path), lines, FrozenDict(book.entries))


def _from_table(path: Path) -> FilledRecord:
    faults = Faults(str(path))
    table = read_csv(path, COLUMNS, faults)
    if table is not None and not {"material", ACTUAL} <= table.cells.keys():
        faults.add(table.header(), f"this is no batch record: no column {ACTUAL}", allowed=WANTED)
    faults.raise_if_any()
    assert table is not None
    cells = table.cells

    def cell(column: str, entry: int) -> str:
        return cells[column][entry] if column in cells else ""

    lines = tuple(
        FilledLine(
            cells["material"][entry], number(cell("grams", entry), comma_decimals=table.comma_decimals),
            cells[ACTUAL][entry], cell("lot", entry), cell("phase", entry) == "adjust",
            table.place(entry, ACTUAL),
        )
        for entry in range(len(table))
    )  # fmt: skip
    return FilledRecord(str(path), lines, comma_decimals=table.comma_decimals)
