"""Gives the records of a table their columns, and every row its place."""

from __future__ import annotations

import gc
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from optiform.faults import UNPRINTABLE, Fault, Faults, nearest, printable
from optiform.library.files.opening import ROWS


@dataclass(frozen=True)
class Columns:
    """What the columns of a table may be called.

    Attributes
    ----------
    table : str
        Name of the table: its file without ``.csv``, or its sheet.
    known, required : tuple of str
        Every column that means something, and those that must be there.
    most : int
        Most rows below the header.
    typed : bool
        People write the file by hand: headings in any case, columns apart by commas, semicolons or tabs.
    also : mapping of str to str
        Other headings of a typed file, in lower case, and the columns that they mean.
    """

    table: str
    known: tuple[str, ...]
    required: tuple[str, ...]
    most: int = ROWS
    typed: bool = False
    also: Mapping[str, str] = field(default_factory=dict)

    def meant(self, heading: str) -> str:
        """Return the column that a heading means, or the heading as it stands."""
        heading = heading.strip()
        folded = " ".join(heading.casefold().split())
        column = self.also.get(folded, folded)
        return column if self.typed and column in self.known else heading

    @property
    def wanted(self) -> str:
        """Return the columns that must be there in words; of a typed file an example."""
        return ", ".join(self.required or self.known[:2])


@dataclass(frozen=True)
class Table:
    """Cells of one table, column by column.

    Attributes
    ----------
    name : str
        Name of the table, e.g. ``materials``.
    file : str
        The file as the user named it.
    sheet : str
        The sheet inside a workbook; empty for CSV.
    rows : sequence of int
        For each entry the row in which a spreadsheet shows it; the header is row 1.
    cells : dict of list of str
        For each column the cells of the entries, trimmed; empty cells are empty strings.
    comma_decimals : bool
        The file separates columns by semicolons, so a decimal comma is part of that one fault.
    damaged : tuple of dict
        Cells of the rows that do not fit the header, as far as they can be told apart; for
        recognising names only.
    """

    name: str
    file: str
    sheet: str = ""
    rows: Sequence[int] = ()
    cells: Mapping[str, list[str]] = field(default_factory=dict)
    comma_decimals: bool = False
    damaged: tuple[Mapping[str, str], ...] = ()

    def __len__(self) -> int:
        return len(self.rows)

    def place(self, entry: int, column: str = "") -> str:
        """Return where an entry stands, in words: ``row 12, column price``."""
        parts = [f"sheet {self.sheet}"] if self.sheet else []
        parts.append(f"row {self.rows[entry]}")
        if column:
            parts.append(f"column {column}")
        return ", ".join(parts)

    def header(self) -> str:
        """Return where the header stands."""
        return f"sheet {self.sheet}, row 1" if self.sheet else "row 1"


@dataclass(frozen=True)
class RawTable:
    """Records of a table before its header was looked at.

    Attributes
    ----------
    records : sequence of (int, cells)
        Row number and cells; blank ones are left out.
    broken : sequence of cells
        Rows that could not be told apart properly; they were noted already.
    """

    file: str
    sheet: str
    records: Sequence[tuple[int, Sequence[str]]]
    comma_decimals: bool = False
    broken: Sequence[Sequence[str]] = ()


def table_of(raw: RawTable, columns: Columns, faults: Faults) -> Table:
    """Give the rows that fit the header their columns, noting everything that is wrong.

    That is: unknown, missing and repeated columns, cells below no heading, rows that are shorter or longer than the
    header, and more rows than are read. Unknown columns are left out.
    """
    here = f"sheet {raw.sheet}, " if raw.sheet else ""
    if not raw.records:
        allowed = f"a header row with the columns {columns.wanted}"
        faults.add(f"{here}row 1", "the table is empty", allowed=allowed, file=raw.file)
        return Table(columns.table, raw.file, raw.sheet)
    if len(raw.records) > columns.most + 1:
        message, allowed = f"the table has {len(raw.records) - 1:,} rows", f"up to {columns.most:,} rows"
        faults.add(here.rstrip(", "), message, allowed=allowed, file=raw.file)
        return Table(columns.table, raw.file, raw.sheet)
    header_row, header = raw.records[0]
    names = [columns.meant(name) for name in header]
    _judge_header(names, columns, f"{here}row {header_row}", raw.file, faults)
    width = len(names)
    fitting: list[Sequence[str]] = []
    rows: list[int] = []
    damaged: list[Mapping[str, str]] = [dict(zip(names, record, strict=False)) for record in raw.broken]
    for row, record in raw.records[1:]:
        if len(record) == width:
            fitting.append(record)
            rows.append(row)
        else:
            hint = " (a text with a comma in it stands in double quotes)" if len(record) > width else ""
            message = f"{len(record)} cells, but the header has {width} columns{hint}"
            faults.add(f"{here}row {row}", message, file=raw.file)
            damaged.append(dict(zip(names, record, strict=False)))
    by_column = list(zip(*fitting, strict=True)) if fitting else [() for _ in names]
    cells: dict[str, list[str]] = {}
    for name, column in zip(names, by_column, strict=True):
        if name in columns.known and name not in cells:
            cells[name] = list(map(str.strip, column))
            _find_unprintable(zip(rows, cells[name], strict=True), here, name, raw.file, faults)
        elif not name and any(column):
            entry = next(i for i, cell in enumerate(column) if cell)
            message = f"'{column[entry]}' stands below no heading"
            faults.add(f"{here}row {rows[entry]}", message, file=raw.file)
    return Table(columns.table, raw.file, raw.sheet, rows, cells, raw.comma_decimals, tuple(damaged))


def _find_unprintable(
    cells: Iterable[tuple[int, str]], here: str, column: str, file: str, faults: Faults
) -> None:
    """Note the cells in which something steers a terminal; a tab and a line end are none."""
    for row, cell in cells:
        found = None if cell.isprintable() else UNPRINTABLE.search(cell.replace("\t", " "))
        if found is not None:
            message = f"a control character ({printable(found.group())}) stands in '{cell}'"
            faults.add(f"{here}row {row}, column {column}", message, allowed="text without it", file=file)


def _judge_header(names: Sequence[str], columns: Columns, place: str, file: str, faults: Faults) -> None:
    missing = [name for name in columns.required if name not in names]
    for name, times in Counter(names).items():
        if not name:
            continue
        if times > 1:
            faults.add(place, f"column '{name}' appears {times} times", file=file)
        if name not in columns.known:
            near = nearest(name, missing) or nearest(name, columns.known)
            allowed = "" if near else ", ".join(columns.known)
            faults.add(place, f"unknown column '{name}'", allowed=allowed, nearest=near, file=file)
    for name in missing:
        faults.add(place, f"column '{name}' is missing", file=file)


def row_of(fault: Fault) -> int:
    """Return the row that a fault names, 0 where it names none; for listing faults in reading order."""
    row = re.search(r"\brow (\d+)", fault.place)
    return int(row.group(1)) if row else 0


def header_recognised(names: Sequence[str], columns: Columns) -> bool:
    """Tell whether a first row can be the header of this table: at least one column is meant in it."""
    return any(nearest(columns.meant(name), columns.known, cutoff=0.75) for name in names if name.strip())


@contextmanager
def no_collection() -> Iterator[None]:
    """Pause the search for reference cycles.

    Reading makes hundreds of thousands of small values and no cycles; the repeated search through
    them would take longer than the reading.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
