"""Writes measured figures and prices into the files of a library; every other byte stays."""

from __future__ import annotations

import csv
import io
import re
from codecs import BOM_UTF8
from collections.abc import Mapping
from pathlib import Path

from optiform.faults import Faults, nearest
from optiform.library.files.opening import TABLE_BYTES, read_bytes
from optiform.library.files.widening import widened
from optiform.library.files.writing import write_whole
from optiform.library.likely import reading_range
from optiform.library.models import Trust
from optiform.library.reading import refuse_starter

COLUMN = "free_alkali"
RANGE = ("free_alkali_low", "free_alkali_high")
PRICE, PRICE_TRUST = "price", "price_trust"


def note_free_alkali(folder: str | Path, free_alkali: Mapping[str, float]) -> Path:
    """Write the free alkali of some materials, and the range of a reading, into a library's materials.csv  [mmol/kg].

    Raises
    ------
    BadInput
        The starter library or a workbook; a file without the column, or without the material.
    """
    noted: dict[str, dict[str, float | str]] = {
        material: {COLUMN: value, **dict(zip(RANGE, reading_range(value), strict=True))}
        for material, value in free_alkali.items()
    }
    return _note(Path(folder), COLUMN, noted)


def note_prices(folder: str | Path, prices: Mapping[str, float]) -> Path:
    """Write prices into a library's materials.csv, as the user's own where that is a column  [currency/kg].

    Raises
    ------
    BadInput
        As `note_free_alkali`.
    """
    noted: dict[str, dict[str, float | str]] = {
        material: {PRICE: value, PRICE_TRUST: Trust.OWN.value} for material, value in prices.items()
    }
    return _note(Path(folder), PRICE, noted, added=(PRICE_TRUST,))


def _note(
    folder: Path, needed: str, cells: Mapping[str, Mapping[str, float | str]], added: tuple[str, ...] = ()
) -> Path:
    """Write cells of some materials into a library's materials.csv.

    The column `needed` must be there, and `added` ones are made where they lack; others are written where they are.
    """
    path, faults = folder / "materials.csv", Faults(str(folder / "materials.csv"))
    refuse_starter(folder, faults)
    wanted = "a library that is a folder of CSV files"
    data = None if faults.found else read_bytes(path, faults, most=TABLE_BYTES, allowed=wanted)
    faults.raise_if_any()
    assert data is not None
    mark = BOM_UTF8 if data.startswith(BOM_UTF8) else b""
    header = next(csv.reader(data.decode("utf-8-sig").splitlines()[:1]), [])
    if needed in (name.strip() for name in header):
        data = widened(data, [name for name in added if name not in header])
    changed = _changed(data.decode("utf-8-sig"), needed, cells, faults)
    faults.raise_if_any()
    write_whole(path, mark + changed.encode("utf-8"))
    return path


def _changed(text: str, needed: str, noted: Mapping[str, Mapping[str, float | str]], faults: Faults) -> str:
    """Return the text with new cells in the rows of these materials, each row's own line end kept."""
    lines = text.splitlines(keepends=True)
    header, *rows = list(_rows(lines)) or [(0, 0, [])]
    names = [name.strip() for name in header[2]]
    missing = [name for name in ("id", needed) if name not in names]
    for name in missing:
        allowed = f"'{name}' added to the header and to every row"
        faults.add("row 1", f"the file has no column '{name}'", allowed=allowed)
    if missing:
        return text
    key, place = names.index("id"), names.index(needed)
    found = {
        cells[key].strip(): (start, end, cells) for start, end, cells in rows if len(cells) > max(key, place)
    }
    for material, values in noted.items():
        if material not in found:
            faults.add("column id", f"there is no material '{material}'", nearest=nearest(material, found))
            continue
        start, end, cells = found[material]
        ending = re.search(r"(\r\n|\n|\r)?\Z", lines[end - 1])
        for column, value in values.items():
            if column in names and names.index(column) < len(cells):
                cells[names.index(column)] = value if isinstance(value, str) else f"{value:.10g}"
        out = io.StringIO()
        csv.writer(out, lineterminator=ending.group() if ending else "\n").writerow(cells)
        lines[start:end] = [out.getvalue(), *[""] * (end - start - 1)]
    return "".join(lines)


def _rows(lines: list[str]) -> list[tuple[int, int, list[str]]]:
    """Return each row with the physical lines it stands on, blank ones left out."""
    reader = csv.reader(iter(lines))
    found, start = [], 0
    for cells in reader:
        if cells:
            found.append((start, reader.line_num, cells))
        start = reader.line_num
    return found
