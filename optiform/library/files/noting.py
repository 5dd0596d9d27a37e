"""One measured figure noted in the files of a library; every other byte stays."""

from __future__ import annotations

import csv
import io
import re
from codecs import BOM_UTF8
from pathlib import Path
from typing import TYPE_CHECKING

from optiform.faults import Faults, nearest
from optiform.library.adding import starter_folder
from optiform.library.files.opening import TABLE_BYTES, read_bytes
from optiform.library.files.writing import write_whole
from optiform.library.likely import reading_range

if TYPE_CHECKING:
    from collections.abc import Mapping

COLUMN = "free_alkali"
RANGE = ("free_alkali_low", "free_alkali_high")


def note_free_alkali(folder: str | Path, free_alkali: Mapping[str, float]) -> Path:
    """Write the free alkali of some materials, and the range of a reading, into a library's materials.csv.

    Parameters
    ----------
    folder : str or Path
        The library's folder. The starter library is never written to.
    free_alkali : mapping of str to float  [mmol/kg]
        By material id.

    Raises
    ------
    BadInput
        The starter library or a workbook; a file without the column, or without the material.
    """
    folder = Path(folder)
    path, faults = folder / "materials.csv", Faults(str(folder / "materials.csv"))
    if folder.resolve() == starter_folder().resolve():
        faults.add(
            "", "the starter library comes with the program and is not changed", allowed="a copy of it"
        )
    wanted = "a library that is a folder of CSV files"
    data = None if faults.found else read_bytes(path, faults, most=TABLE_BYTES, allowed=wanted)
    faults.raise_if_any()
    assert data is not None
    mark = BOM_UTF8 if data.startswith(BOM_UTF8) else b""
    changed = _changed(data.decode("utf-8-sig"), free_alkali, faults)
    faults.raise_if_any()
    write_whole(path, mark + changed.encode("utf-8"))
    return path


def _changed(text: str, free_alkali: Mapping[str, float], faults: Faults) -> str:
    """Return the text with new cells in the rows of these materials, each row's own line end kept."""
    lines = text.splitlines(keepends=True)
    header, *rows = list(_rows(lines)) or [(0, 0, [])]
    names = [name.strip() for name in header[2]]
    missing = [name for name in ("id", COLUMN) if name not in names]
    for name in missing:
        faults.add(
            "row 1",
            f"the file has no column '{name}'",
            allowed=f"'{name}' added to the header and to every row",
        )
    if missing:
        return text
    key, place = names.index("id"), names.index(COLUMN)
    found = {
        cells[key].strip(): (start, end, cells) for start, end, cells in rows if len(cells) > max(key, place)
    }
    for material, value in free_alkali.items():
        if material not in found:
            faults.add("column id", f"there is no material '{material}'", nearest=nearest(material, found))
            continue
        start, end, cells = found[material]
        ending = re.search(r"(\r\n|\n|\r)?\Z", lines[end - 1])
        cells[place] = f"{value:.10g}"
        for column, bound in zip(RANGE, reading_range(value), strict=True):
            if column in names:
                cells[names.index(column)] = f"{bound:.10g}"
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
