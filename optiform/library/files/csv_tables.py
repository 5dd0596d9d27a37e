"""Reads a CSV file (UTF-8, commas, a header row), and tells everything that is wrong with it."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from optiform.faults import Faults
from optiform.library.files.opening import ROWS, TABLE_BYTES, read_bytes
from optiform.library.files.tables import Columns, RawTable, Table, header_recognised, table_of

SNIFFED = 65_536
FOREIGN = {
    b"PK\x03\x04": "a workbook or a zip archive, not CSV",
    b"\xd0\xcf\x11\xe0": "an old or password-protected office document, not CSV",
    b"%PDF": "a PDF document, not CSV",
    b"\xff\xfe": "UTF-16 text",
    b"\xfe\xff": "UTF-16 text",
    b"\x1f\x8b": "a compressed file, not CSV",
}
WANTED = "a CSV file in UTF-8, columns separated by commas"


def read_csv(path: Path, columns: Columns, faults: Faults) -> Table | None:
    """Read one CSV file into a table, noting everything that is wrong with it.

    That is: a file of another kind, bytes that are not UTF-8, another separator, quotes that are never closed, and all
    that `table_of` notes. A large file of another kind is refused by its beginning.
    """
    file = str(path)
    data = read_bytes(path, faults, most=TABLE_BYTES, allowed=WANTED)
    if data is None or not _is_table(data, file, columns, faults):
        return None
    text = _decoded(data, file, faults)
    separator = _separator(text[:SNIFFED], columns)
    if separator != "," and not columns.typed:
        name = {";": "semicolons", "\t": "tabs"}[separator]
        wanted = WANTED + ", decimals by '.'"
        faults.add("row 1", f"columns are separated by {name}", allowed=wanted, file=file)
    broken: list[Sequence[str]] = []
    records = _records(text, separator, broken, file, faults)
    raw = RawTable(file, "", records, comma_decimals=separator != ",", broken=broken)
    return table_of(raw, columns, faults)


def _is_table(data: bytes, file: str, columns: Columns, faults: Faults) -> bool:
    """Judge the bytes of a file by its beginning and its size; note why it cannot be this table."""
    start = data[:SNIFFED]
    for magic, what in FOREIGN.items():
        if start.startswith(magic):
            faults.add("", f"this is {what}", allowed=WANTED, file=file)
            return False
    if max(data.count(b"\n"), data.count(b"\r")) > ROWS:
        faults.add("", "more rows than are read", allowed=f"up to {ROWS:,} rows", file=file)
        return False
    if b"\0" in data:
        row = data.count(b"\n", 0, data.index(b"\0")) + 1
        faults.add(f"row {row}", "a NUL byte: this is no text file", allowed=WANTED, file=file)
        return False
    if not start.strip(b"\xef\xbb\xbf \t\r\n,;"):
        if len(start) < SNIFFED:
            wanted = "a header row with the columns " + columns.wanted
            faults.add("row 1", "the file is empty", allowed=wanted, file=file)
        else:
            faults.add("row 1", "the file begins with nothing but blanks", allowed=WANTED, file=file)
        return False
    first = _first_line(start.decode("utf-8-sig", errors="replace"))
    names = [name.strip(' "') for name in first.replace(";", ",").replace("\t", ",").split(",")]
    if len(names) <= 200 and header_recognised([name[:60] for name in names], columns):
        return True
    shown = first[:40] + ("..." if len(first) > 40 else "")
    wanted = f"a header row with columns such as {columns.wanted}"
    message = f"this is not the {columns.table} table: it begins with {shown!r}"
    faults.add("row 1", message, allowed=wanted, file=file)
    return False


def _decoded(data: bytes, file: str, faults: Faults) -> str:
    """Decode UTF-8; where bytes are not UTF-8, note each such row and read on as Windows-1252."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    for row, line in enumerate(data.split(b"\n"), start=1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as error:
            byte = line[error.start]
            meant = bytes([byte]).decode("cp1252", errors="replace")
            message = f"byte {error.start + 1} of the row (0x{byte:02X}, perhaps '{meant}') is not UTF-8"
            faults.add(f"row {row}", message, allowed="text saved as UTF-8", file=file)
    return data.decode("cp1252", errors="replace")


def _separator(text: str, columns: Columns) -> str:
    first = _first_line(text)

    def recognised(mark: str) -> int:
        return sum(columns.meant(name.strip(' "')) in columns.known for name in first.split(mark))

    return max((",", ";", "\t"), key=recognised)


def _first_line(text: str) -> str:
    return re.split(r"[\r\n]", text.lstrip("\r\n"), maxsplit=1)[0]


def _records(
    text: str, separator: str, broken: list[Sequence[str]], file: str, faults: Faults
) -> Sequence[tuple[int, Sequence[str]]]:
    """Split a text into its records, each with its row; blank records are left out."""
    try:
        found = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error:
        return list(_records_despite_quotes(text, separator, broken, file, faults))
    return [(row, record) for row, record in enumerate(found, start=1) if any(map(str.strip, record))]


def _records_despite_quotes(
    text: str, separator: str, broken: list[Sequence[str]], file: str, faults: Faults
) -> Iterator[tuple[int, Sequence[str]]]:
    """Yield the records of a text some of whose quotes are wrong.

    Each wrong one is noted, its line goes to `broken`, and reading goes on at the next line, so that
    later rows are judged as well.
    """
    lines = list(io.StringIO(text, newline=""))
    position, row = 0, 0
    while position < len(lines):
        reader = csv.reader((lines[i] for i in range(position, len(lines))), delimiter=separator, strict=True)
        begun = 0
        try:
            for record in reader:
                row += 1
                begun = reader.line_num
                if any(map(str.strip, record)):
                    yield row, record
            return
        except csv.Error as error:
            row += 1
            what = "a quote is opened and never closed" if "unexpected end" in str(error) else "a stray quote"
            if "field larger" in str(error):
                what = "a cell longer than 131,072 characters, or a quote that is never closed"
            wanted = 'text in double quotes, a quote inside it doubled ("")'
            faults.add(f"row {row}", what, allowed=wanted, file=file)
            broken.append(lines[position + begun].replace('"', "").split(separator))
            position += begun + 1
