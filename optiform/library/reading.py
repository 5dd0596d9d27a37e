"""Reads the files of a library into a checked `Library`, or tells all of their faults."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from optiform.faults import BadInput, Fault, Faults, nearest
from optiform.library.checking.checks import check
from optiform.library.files import typed_tables
from optiform.library.files.columns import Entries, entries_of
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.opening import ROWS, is_file, names_in
from optiform.library.files.tables import Columns, Table, no_collection, row_of
from optiform.library.files.toml_file import LibraryKeys, read_keys
from optiform.library.models import (
    Frozen,
    Library,
    Material,
    Pack,
    Part,
    Rules,
    Substance,
    TitrationPoint,
    Trial,
)

Entry = TypeVar("Entry", bound=Frozen)
TABLES: dict[str, type[Frozen]] = {
    "materials": Material,
    "substances": Substance,
    "composition": Part,
    "titration": TitrationPoint,
    "trials": Trial,
    "packs": Pack,
}
FIELDS = {name: name for name in TABLES} | {"composition": "parts", "titration": "titrations"}
"""The field of a library that a table fills."""

NEEDED = ("materials", "substances", "composition")
BESIDE = ("limits", "allergens", "prices", "shelf")
WITH_MEASURES = ("materials", "substances")
MOST = 100_000
"""Most materials, and most substances. No store has as many; a table with more is another one than was meant."""


def load_library(path: str | Path | None = None) -> Library:
    """Read a library and check it; a library that is returned can be relied on.

    Parameters
    ----------
    path : str or Path, optional
        A folder, or one ``.xlsx`` workbook with library.toml beside it. Absent: the starter
        library that comes with the program.

    Returns
    -------
    Library
        `folder` is the folder as given; `limits_file` the library's own limits.csv, if it has one.

    Raises
    ------
    BadInput
        With every fault of every file: unreadable files, unknown or missing columns and keys,
        cells that are not allowed, and what does not hold between the tables.
    """
    with no_collection():
        return _load(starter_folder() if path is None else Path(path))


def starter_folder() -> Path:
    """Return the folder of the starter library that comes with the program."""
    with resources.as_file(resources.files("optiform.library") / "starter") as folder:
        return folder


def refuse_starter(folder: Path, faults: Faults) -> None:
    """Note that the starter library is never written to."""
    if folder.resolve() == starter_folder().resolve():
        message = "the starter library comes with the program and is not changed"
        faults.add("", message, allowed="a copy of it: optiform library copy DIR")


def _load(path: Path) -> Library:
    faults = Faults()
    source = _source(path, faults)
    if source is None:
        raise BadInput(faults.found)
    keys = read_keys(source.folder / "library.toml", faults) if source.has_keys else None
    measured = tuple(measure.column for measure in keys.measure) if keys is not None else ()
    tables = _read_tables(source, measured, faults)
    entries = {
        FIELDS[name]: _entries(model, tables.get(name), measured if name in WITH_MEASURES else (), faults)
        for name, model in TABLES.items()
    }
    library = _library(source, keys or LibraryKeys(name="unnamed"), entries)
    if all(name in tables for name in NEEDED) and keys is not None:
        check(library, entries, faults, str(source.folder / "library.toml"))
    if faults.found:
        raise BadInput(_sorted(faults.found, source))
    return library


@dataclass(frozen=True)
class _Source:
    """Where the tables of a library stand."""

    folder: Path
    workbook: Path | None
    has_keys: bool


def _source(path: Path, faults: Faults) -> _Source | None:
    """Find the files of a library, or note that there are none."""
    wanted = "a folder with library.toml, materials.csv, substances.csv, composition.csv; or an .xlsx file"
    if path.name == "library.toml":
        path = path.parent
    inside = names_in(path)
    if inside is None and not is_file(path):
        near = nearest(path.name, names_in(path.parent) or ())
        suggested = str(path.with_name(near)) if near else ""
        faults.add("", "there is no such library", allowed=wanted, nearest=suggested, file=path)
        return None
    if inside is None and path.suffix.lower() != ".xlsx":
        faults.add("", "this is neither a folder nor an .xlsx workbook", allowed=wanted, file=path)
        return None
    folder, workbook = (path.parent, path) if inside is None else (path, None)
    if inside is not None and not inside.intersection(f"{name}.csv" for name in NEEDED):
        books = sorted(name for name in inside if name.endswith(".xlsx") and not name.startswith("~$"))
        workbook = folder / books[0] if len(books) == 1 else None
    has_keys = is_file(folder / "library.toml")
    if not has_keys:
        message = "the file is missing; it names the library, its currency and its rules"
        faults.add("", message, allowed='at least the line: name = "..."', file=folder / "library.toml")
    return _Source(folder, workbook, has_keys)


def table_columns(name: str, extra: Iterable[str] = ()) -> Columns:
    """Return what the columns of one of the `TABLES` may be called."""
    most = MOST if name in WITH_MEASURES else ROWS
    return typed_tables.columns_of(name, TABLES[name], also=extra, most=most)


def _read_tables(source: _Source, measured: Sequence[str], faults: Faults) -> dict[str, Table]:
    """Read every table that can be read; note those that are missing or called by a wrong name."""
    wanted = {name: table_columns(name, measured if name in WITH_MEASURES else ()) for name in TABLES}
    if source.workbook is None:
        inside = sorted(names_in(source.folder) or ())
        found = {Path(name).stem: source.folder / name for name in inside if name.endswith(".csv")}
        names, file, what = set(found), str(source.folder), "file {}.csv"

        def read(name: str) -> Table | None:
            return read_csv(found[name], wanted[name], faults)
    else:
        from optiform.library.files.xlsx_tables import read_workbook

        workbook = read_workbook(
            source.workbook, faults, lambda sheets: [sheet for sheet in sheets if sheet in TABLES]
        )
        if workbook is None:
            return {}
        names, file, what = set(workbook.names), str(source.workbook), "sheet {}"

        def read(name: str) -> Table | None:
            return workbook.table(wanted[name], faults)

    for name in sorted(names.difference(TABLES, BESIDE)):
        near = nearest(name, set(TABLES).union(BESIDE).difference(names), cutoff=0.75)
        if near:
            faults.add("", f"unknown {what.format(name)}", nearest=what.format(near).split()[-1], file=file)
    for name in NEEDED:
        if name not in names:
            faults.add("", f"the {what.format(name)} is missing", file=file)
    return _present(read, [name for name in TABLES if name in names])


def _present(read: Callable[[str], Table | None], names: Sequence[str]) -> dict[str, Table]:
    tables = {name: read(name) for name in names}
    return {name: table for name, table in tables.items() if table is not None}


def _entries(
    model: type[Entry], table: Table | None, measured: Sequence[str], faults: Faults
) -> Entries[Entry]:
    """Return the sound rows of a table with their places; none where there is no table."""
    if table is None:
        return Entries(None, ())
    return entries_of(model, table, faults, [name for name in dict.fromkeys(measured) if name in table.cells])


def _library(source: _Source, keys: LibraryKeys, entries: Mapping[str, Entries[Any]]) -> Library:
    limits = source.folder / "limits.csv"
    return Library(
        name=keys.name,
        folder=str(source.workbook or source.folder),
        currency=keys.currency,
        trust=keys.trust,
        **{name: found.items for name, found in entries.items()},
        measures=keys.measure,
        systems=keys.system,
        bases=keys.base,
        rules=Rules(**{kind: getattr(keys, kind) for kind in Rules.model_fields}),
        limits_file=str(limits) if is_file(limits) else "",
    )


def _sorted(found: Iterable[Fault], source: _Source) -> list[Fault]:
    """Return the faults file by file and row by row, each once."""
    files = [str(source.folder / "library.toml"), *(str(source.folder / f"{name}.csv") for name in TABLES)]
    sheets = [f"sheet {name}" for name in TABLES]

    def order(fault: Fault) -> tuple[int, int, int]:
        sheet = fault.place.partition(",")[0]
        return (
            files.index(fault.file) if fault.file in files else -1,
            sheets.index(sheet) if sheet in sheets else -1,
            row_of(fault),
        )

    return sorted(dict.fromkeys(found), key=order)
