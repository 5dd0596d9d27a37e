"""Reads the worksheets Weigh and Record of a filled workbook."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from optiform.faults import Faults
from optiform.library.files.columns import number
from optiform.library.files.tables import RawTable
from optiform.library.files.xlsx_tables import read_workbook
from optiform.sheets.record.batch_record import Part, parts_of_record

WEIGH, RECORD = "Weigh", "Record"
MATERIAL, TARGET, ACTUAL, RESULT = "material", "target g", "actual g", 3
WANTED = "a workbook of `sheet --xlsx` with its blanks filled in"


@dataclass(frozen=True)
class WeighedRow:
    """One row of the worksheet Weigh: its cells and its place."""

    material: str
    target_g: float | None
    actual: str
    lot: str
    phase: str
    place: str


@dataclass(frozen=True)
class FilledWorkbook:
    """The entries of a filled workbook.

    Attributes
    ----------
    rows : tuple of WeighedRow
    entries : dict of str to str
        What stands in the blanks of Record, by part and key: "identity/made on", "deviations/1/step".
    """

    rows: tuple[WeighedRow, ...]
    entries: dict[str, str]


def read_filled_workbook(path: Path, faults: Faults) -> FilledWorkbook | None:
    """Read the worksheets of a filled batch record; None after noting why there are none."""
    book = read_workbook(path, faults, lambda names: [name for name in (WEIGH, RECORD) if name in names])
    if book is None:
        return None
    weigh, record = book.sheets.get(WEIGH), book.sheets.get(RECORD)
    rows = None if weigh is None else _weighed(weigh)
    if rows is None or record is None:
        faults.add("", "this is no batch record", allowed=WANTED, file=path)
        return None
    return FilledWorkbook(rows, dict(_entries(record)))


def _weighed(raw: RawTable) -> tuple[WeighedRow, ...] | None:
    """Return the rows between the header and the total; None where there is no such header."""
    cells = [(row, tuple(map(str.strip, record))) for row, record in raw.records]
    start = next((i for i, (_, each) in enumerate(cells) if {MATERIAL, ACTUAL} <= set(each)), None)
    if start is None:
        return None
    header = cells[start][1]
    rows = []
    for row, record in cells[start + 1 :]:
        held = dict(zip(header, record, strict=False))
        if not held.get(MATERIAL):
            break
        rows.append(
            WeighedRow(
                held[MATERIAL],
                number(held.get(TARGET, "")),
                held.get(ACTUAL, ""),
                held.get("lot", ""),
                held.get("phase", ""),
                f"sheet {raw.sheet}, row {row}, column {ACTUAL}",
            )
        )
    return tuple(rows)


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
