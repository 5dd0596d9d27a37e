"""Adds a new material to the files of a library, from its specification."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import Field, ValidationError

from optiform.faults import FORMULA_MARKS, UNPRINTABLE, BadInput, Faults, printable
from optiform.library.checking.checks import faults_of
from optiform.library.checking.names import Names
from optiform.library.files.csv_tables import WANTED, read_csv
from optiform.library.files.opening import TABLE_BYTES, is_file, read_bytes, reason
from optiform.library.files.refusals import refusals
from optiform.library.files.widening import widened, with_system
from optiform.library.files.writing import write_together
from optiform.library.models import (
    Frozen,
    Library,
    Material,
    Part,
    PreservativeSystem,
    Substance,
    TitrationPoint,
)
from optiform.library.reading import refuse_starter, starter_folder, table_columns

KEY_COLUMNS = {"substances": "inci", "composition": "material", "materials": "id", "titration": "material"}
TITRATION = b"material,pH,acid_mmol_per_kg,source\n"


class Content(Frozen):
    """One substance of the new material, % w/w as the specification states it."""

    inci: str = Field(min_length=1)
    percent: float = Field(ge=0, le=100)
    low: float | None = Field(default=None, ge=0, le=100)
    high: float | None = Field(default=None, ge=0, le=100)
    label: str = "ingredient"


class Specification(Material):
    """What a supplier's specification says about one material.

    `contents` are its substances without the water; `salt` is sodium chloride beside them;
    the rest to 100 % is water. `new_substances` are substances that the library does not know yet, `titration` is
    its measured curve, `system` the preservative system that it makes by itself.
    """

    contents: tuple[Content, ...] = ()
    salt: float = Field(default=0.0, ge=0, le=100)
    new_substances: tuple[Substance, ...] = ()
    titration: tuple[TitrationPoint, ...] = ()
    system: PreservativeSystem | None = None


@dataclass(frozen=True)
class AddedRows:
    """The rows of one new material, and its preservative system where it preserves."""

    material: Material
    parts: tuple[Part, ...]
    substances: tuple[Substance, ...] = ()
    titrations: tuple[TitrationPoint, ...] = ()
    system: PreservativeSystem | None = None


def new_material(library: Library, specification: Mapping[str, Any] | Specification) -> AddedRows:
    """Return the rows that a new material adds to a library, or everything that is wrong with it.

    Parameters
    ----------
    specification : mapping or Specification
        The fields of `Specification`. `free_alkali` [mmol/kg] is what brings the computed pH to the
        measured one; whoever calls has computed it.

    Raises
    ------
    BadInput
        Fields that are unknown, missing or not allowed; an id or substance that exists already; an
        unknown INCI name without its data; contents beyond 100 %; crossed windows.
    """
    faults = Faults()
    given = specification if isinstance(specification, Specification) else _specified(specification, faults)
    if given is None:
        raise BadInput(faults.found)
    for place, text in _texts(given):
        if UNPRINTABLE.search(text) or text.startswith(FORMULA_MARKS):
            message = f"'{printable(text)}' steers a terminal, or a spreadsheet would calculate it"
            faults.add(place, message, allowed="plain text that begins with none of = + - @")
    material = Material(**{name: getattr(given, name) for name in Material.model_fields})
    if material.id in library.material:
        faults.add("id", f"there is a material '{material.id}' already", allowed="a new id")
    parts = _parts(library, given, faults)
    faults.raise_if_any()
    added = AddedRows(material, parts, given.new_substances, given.titration, given.system)
    for fault in faults_of(joined(library, added)):
        _, _, column = fault.place.rpartition(", ")
        faults.add(column, fault.message, allowed=fault.allowed, nearest=fault.nearest)
    faults.raise_if_any()
    return added


def joined(library: Library, added: AddedRows) -> Library:
    """Return the library with the new material in it."""
    return library.model_copy(update={
        "materials": (*library.materials, added.material),
        "parts": (*library.parts, *added.parts),
        "substances": (*library.substances, *added.substances),
        "titrations": (*library.titrations, *added.titrations),
        "systems": (*library.systems, *([] if added.system is None else [added.system])),
    })  # fmt: skip


def _specified(mapping: Mapping[str, Any], faults: Faults) -> Specification | None:
    try:
        return Specification(**mapping)
    except ValidationError as error:
        for refusal in refusals(Specification, error):
            place = ", ".join(str(key + 1) if isinstance(key, int) else key for key in refusal.location)
            faults.add(place, refusal.message, allowed=refusal.allowed, nearest=refusal.nearest)
    return None


def _texts(given: Specification) -> Iterator[tuple[str, str]]:
    """Yield every text of a specification with its place."""
    for entry, place in (
        (given, ""),
        *((substance, "new_substances, ") for substance in given.new_substances),
    ):
        for name, value in entry:
            for text in value if isinstance(value, tuple) else (value,):
                if isinstance(text, str):
                    yield f"{place}{name}", text


def _parts(library: Library, given: Specification, faults: Faults) -> tuple[Part, ...]:
    """Return the composition, water as the rest."""
    contents = list(given.contents)
    if given.salt > 0:
        contents.append(Content(inci="Sodium Chloride", percent=given.salt))
    described = [substance.inci for substance in given.new_substances]
    known = Names([*library.substance, *described])
    for inci in described:
        if inci in library.substance:
            faults.add("new_substances", f"there is a substance '{inci}' already", allowed="a new INCI name")
    for content in contents:
        if content.inci not in known:
            message = f"there is no substance '{content.inci}' in the library"
            allowed = 'an INCI name of the library; a new one is described: --new "INCI: class"'
            faults.add("contents", message, allowed=allowed, nearest=known.nearest(content.inci))
    total = sum((Decimal(str(content.percent)) for content in contents), Decimal())
    if total > 100:
        faults.add("contents", f"the contents add to {total} %", allowed="100 % or less; the rest is water")
        return ()
    if total < 100:
        contents.append(Content(inci="Aqua", percent=float(Decimal(100) - total)))
    return tuple(Part.model_validate({"material": given.id, **content.model_dump()}) for content in contents)


def write_rows(folder: str | Path, added: AddedRows, *, dry_run: bool = False) -> tuple[Path, ...]:
    """Append the rows of a new material to the files of a library; nothing else in them changes.

    A column that the new rows need and a file lacks is added at its right end, empty in the old rows. All files are
    written in one step: where one cannot be, none is changed.

    Parameters
    ----------
    dry_run : bool
        Look for every fault, and write nothing.

    Raises
    ------
    BadInput
        The starter library or a workbook; a file that cannot be read or written; a row that exists
        already.
    """
    folder, faults = Path(folder), Faults(str(folder))
    refuse_starter(folder, faults)
    if not faults.found and not is_file(folder / "materials.csv"):
        message = "rows can be added to a folder of CSV files only"
        faults.add("", message, allowed="a folder with materials.csv")
    faults.raise_if_any()
    rows = {
        "substances": [_cells(substance) for substance in added.substances],
        "composition": [_cells(part) for part in added.parts],
        "titration": [_cells(point) for point in added.titrations],
        "materials": [_cells(added.material)],
    }
    texts = {
        folder / f"{name}.csv": _appended(folder / f"{name}.csv", name, new, faults)
        for name, new in rows.items()
        if new
    }
    if added.system is not None:
        texts[folder / "library.toml"] = with_system(folder / "library.toml", added.system, faults)
    faults.raise_if_any()
    if not dry_run:
        write_together(texts)
    return tuple(texts)


def _cells(entry: Frozen) -> dict[str, str]:
    """Return the cells of one row; what has its default value is left blank."""
    cells: dict[str, str] = {}
    for name, info in type(entry).model_fields.items():
        value = getattr(entry, name)
        if not info.is_required() and value == info.get_default(call_default_factory=True, validated_data={}):
            continue
        if isinstance(value, dict):
            cells.update({column: _written(number) for column, number in value.items()})
        elif isinstance(value, tuple):
            cells[name] = (";" if name == "pka" else " ").join(_written(item) for item in value)
        else:
            cells[name] = _written(value)
    return cells


def _written(value: object) -> str:
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return str(value)


def _appended(path: Path, name: str, rows: Sequence[Mapping[str, str]], faults: Faults) -> bytes:
    """Return the bytes of a file with rows behind them, in its own columns and line ends."""
    file, before = str(path), len(faults.found)
    if name == "titration" and not is_file(path):
        data: bytes | None = TITRATION
        table = None
    else:
        data = read_bytes(path, faults, most=TABLE_BYTES, allowed=WANTED)
        if data is None:
            return b""
        table = read_csv(path, table_columns(name, _header(data)), faults)
        if table is None or len(faults.found) > before:
            return b""
    assert data is not None
    key, present = KEY_COLUMNS[name], set() if table is None else set(table.cells[KEY_COLUMNS[name]])
    for taken in sorted({row[key] for row in rows} & present):
        faults.add(f"column {key}", f"'{taken}' is in the file already", file=file)
    header = _header(data)
    lacking = [column for column in dict.fromkeys(key for row in rows for key in row) if column not in header]
    data = widened(data, lacking)
    line_end = "\r\n" if b"\r\n" in data else "\n"
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=line_end)
    writer.writerows([row.get(column, "") for column in (*header, *lacking)] for row in rows)
    glue = b"" if data.endswith((b"\n", b"\r")) else line_end.encode()
    return data + glue + out.getvalue().encode("utf-8")


def _header(data: bytes) -> list[str]:
    """Return the columns of a file, none where it cannot be read; `read_csv` says why."""
    try:
        text = data.decode("utf-8-sig").lstrip("\r\n")
        return [column.strip() for column in next(csv.reader(io.StringIO(text, newline="")), [])]
    except (UnicodeDecodeError, csv.Error):
        return []


def copy_starter(to: str | Path) -> tuple[Path, ...]:
    """Copy the starter library into a new folder, where it may be changed; return its files.

    Raises
    ------
    BadInput
        When the folder exists and is not empty, or cannot be written.
    """
    target, faults = Path(to), Faults(str(to))
    try:
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            faults.add("", "this exists already and is not an empty folder", allowed="a new folder")
            raise BadInput(faults.found)
        target.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        message = f"cannot be written ({reason(error)})"
        faults.add("", message, allowed="a folder that can be written")
        raise BadInput(faults.found) from None
    files = sorted(path for path in starter_folder().iterdir() if path.suffix in (".csv", ".toml", ".md"))
    copies = {target / path.name: path.read_bytes() for path in files}
    write_together(copies, replace=False)
    return tuple(copies)
