"""Reads a filled batch record: grams weighed, lots and readings."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from optiform.faults import BadInput, Fault, Faults
from optiform.library.files.columns import number
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.opening import TABLE_BYTES, read_text
from optiform.library.files.tables import RawTable
from optiform.library.files.xlsx_tables import read_workbook
from optiform.library.typed.formula_table import COLUMNS
from optiform.mappings import FrozenDict, FrozenMap
from optiform.sheets.record.batch_record import BatchRecord, Part, parts_of_record

WANTED = (
    "a record saved by the page, or one of `sheet --part batch --format csv` or `sheet --xlsx`, filled in"
)
WANTED_SHEETS = "a workbook of `sheet --xlsx` with its blanks filled in"
ACTUAL = "actual_g"
WEIGH, RECORD = "Weigh", "Record"
MATERIAL, TARGET, WEIGHED, RESULT = "material", "target g", "actual g", 3
"""Headings of the worksheet Weigh, and the column of a blank's entry in Record."""


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
    faults = Faults(str(path))
    if path.suffix.lower() == ".xlsx":
        found = _from_workbook(path, faults)
        faults.raise_if_any()
        assert found is not None
        return found
    if path.suffix.lower() != ".json":
        return _from_table(path, faults)
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
    """Return the record that the page keeps in a file, and its entries by blank; `BadInput` for any other file."""
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
        found = _from_workbook(path, Faults())
        return found is not None and any(line.actual for line in found.lines)
    table = read_csv(path, COLUMNS, Faults())
    return table is not None and any(table.cells.get(ACTUAL, ()))


def _from_workbook(path: Path, faults: Faults) -> FilledRecord | None:
    """Read the worksheets Weigh and Record; None after noting why there are none."""
    book = read_workbook(path, faults, lambda names: [name for name in (WEIGH, RECORD) if name in names])
    if book is None:
        return None
    weigh, record = book.sheets.get(WEIGH), book.sheets.get(RECORD)
    lines = None if weigh is None else _weighed(weigh)
    if lines is None or record is None:
        faults.add("", "this is no batch record", allowed=WANTED_SHEETS, file=path)
        return None
    return FilledRecord(str(path), lines, FrozenDict(_entries(record)))


def _weighed(raw: RawTable) -> tuple[FilledLine, ...] | None:
    """Return the rows between the header and the total; None where there is no such header."""
    cells = [(row, tuple(map(str.strip, record))) for row, record in raw.records]
    start = next((i for i, (_, each) in enumerate(cells) if {MATERIAL, WEIGHED} <= set(each)), None)
    if start is None:
        return None
    lines = []
    for row, record in cells[start + 1 :]:
        held = dict(zip(cells[start][1], record, strict=False))
        if not held.get(MATERIAL):
            break
        target, place = number(held.get(TARGET, "")), f"sheet {raw.sheet}, row {row}, column {WEIGHED}"
        adjusts = held.get("phase") == "adjust"
        lines.append(
            FilledLine(held[MATERIAL], target, held.get(WEIGHED, ""), held.get("lot", ""), adjusts, place)
        )
    return tuple(lines)


def _entries(raw: RawTable) -> Iterator[tuple[str, str]]:
    """Yield the name and entry of each filled blank; rows below a heading belong to that part."""
    parts = {part.title: part for part in parts_of_record()}
    part, at = None, 0
    for _, record in raw.records:
        if record[0] in parts:
            part, at = parts[record[0]], 0
            continue
        at += 1
        if part is not None and at > 1:
            found = _one(part, record) if part.rows == 1 else _several(part, record, at - 1)
            yield from ((key, text.strip()) for key, text in found if text.strip())


def _one(part: Part, record: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield the entry of a row that holds one blank."""
    for blank in part.blanks:
        if len(record) > RESULT and record[1] == blank.label:
            yield f"{part.key}/{blank.key}", record[RESULT]


def _several(part: Part, record: Sequence[str], row: int) -> Iterator[tuple[str, str]]:
    """Yield the entries of a row of a part with several rows."""
    if row <= part.rows:
        yield from (
            (f"{part.key}/{row}/{blank.key}", text) for blank, text in zip(part.blanks, record, strict=False)
        )


def _from_table(path: Path, faults: Faults) -> FilledRecord:
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
