"""Reads the law of a place, and a library's own limits beside it."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from optiform.faults import BadInput, Faults, nearest
from optiform.law.models import LABEL_RULES, Allergen, Jurisdiction, Law, Limit, MolarMass, place_of
from optiform.library.files.columns import entries_of, number, shortened
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.opening import is_file, is_folder
from optiform.library.files.tables import Columns, Table, row_of
from optiform.library.files.typed_tables import Entry, columns_of, read_entries
from optiform.library.models import MOST, Library

DERIVED = ("trust", "own")
"""Fields of rows that no column states: trust stands before the source."""

NEEDED = ("jurisdiction", "substances", "max_percent")
LIMITS = columns_of("limits", Limit, without=DERIVED, required=NEEDED)
ALLERGENS = columns_of("allergens", Allergen, without=DERIVED)
SWITCHED_OFF = (
    "No law was chosen: legal limits, allergen declarations and the positive lists were not applied."
)


def load_law(
    jurisdiction: str,
    extra_limits: Path | str | None = None,
    on: date | None = None,
    extra_allergens: Path | str | None = None,
) -> Law:
    """Return the law of a place on a day, with a library's own rows in place of the shipped ones.

    Parameters
    ----------
    jurisdiction : str
        EU, UK, US, or none: then no limit holds, a library's own neither.
    extra_limits : Path or str, optional
        A library's own ``limits.csv``. Its rows of this jurisdiction, and those of jurisdiction
        ``any``, are added; a row replaces all shipped rows of the same entry and group.
    on : date, optional
        The day for which the law is read; today when absent.
    extra_allergens : Path or str, optional
        A library's own ``allergens.csv``; a row replaces the shipped ones of the same name.

    Raises
    ------
    BadInput
        An unknown jurisdiction, or anything wrong in the own files: every fault at once.

    Notes
    -----
    The rows are a reading of the law by its date, not legal advice; see docs/reference/law.md.
    """
    place = place_of(jurisdiction)
    own, own_allergens = own_rows(extra_limits, extra_allergens)
    day = on or date.today()
    if place == "none":
        return Law(jurisdiction=place, on=day, label=LABEL_RULES[place], notes=(SWITCHED_OFF,))
    own = tuple(limit for limit in own if limit.jurisdiction in (place, "any"))
    limits, notes = _replaced(shipped_limits(place), own)
    return Law(
        jurisdiction=place,
        on=day,
        limits=limits,
        allergens=_allergens(place, own_allergens),
        label=LABEL_RULES[place],
        notes=notes,
    )


def law_for(library: Library, jurisdiction: str, on: date | None = None) -> Law:
    """Return the law of a place on a day, with the tables of a library's own counted in; see `load_law`."""
    _, allergens = own_files(Path(library.folder)) if library.folder else (None, None)
    return load_law(jurisdiction, library.limits_file or None, on, allergens)


def own_files(library: Path) -> tuple[Path | None, Path | None]:
    """Return the ``limits.csv`` and the ``allergens.csv`` of a library's folder, or beside its workbook."""
    folder = library if is_folder(library) else library.parent
    limits, allergens = folder / "limits.csv", folder / "allergens.csv"
    return (limits if is_file(limits) else None), (allergens if is_file(allergens) else None)


def own_rows(
    limits: Path | str | None, allergens: Path | str | None
) -> tuple[tuple[Limit, ...], tuple[Allergen, ...]]:
    """Return the rows of a library's own tables, or raise `BadInput` with the faults of both."""
    faults, rows, names = Faults(), tuple[Limit, ...](), tuple[Allergen, ...]()
    if limits is not None:
        with faults.gathering():
            rows = read_limits(Path(limits))
    if allergens is not None:
        with faults.gathering():
            names = read_allergens(Path(allergens))
    faults.raise_if_any()
    return rows, names


def _allergens(place: Jurisdiction, own: tuple[Allergen, ...]) -> tuple[Allergen, ...]:
    own = tuple(entry for entry in own if entry.jurisdiction in (place, "any"))
    named = {entry.group_name.casefold() for entry in own}
    shipped = (entry for entry in shipped_allergens() if entry.jurisdiction == place)
    return (*(entry for entry in shipped if entry.group_name.casefold() not in named), *own)


def _replaced(
    shipped: tuple[Limit, ...], own: tuple[Limit, ...]
) -> tuple[tuple[Limit, ...], tuple[str, ...]]:
    """Put a library's own rows in place of the shipped rows of the same entry and group."""
    named = {(limit.entry, limit.group) for limit in own if limit.entry}
    kept = tuple(limit for limit in shipped if (limit.entry, limit.group) not in named)
    gone = {(limit.entry, limit.group) for limit in shipped} & named
    notes = tuple(
        f"{entry}{f' ({group})' if group else ''}: the library's own rows replace the shipped ones."
        for entry, group in sorted(gone)
    )
    return (*kept, *own), notes


def read_limits(path: Path) -> tuple[Limit, ...]:
    """Return the rows of a library's own limits table, or raise `BadInput` with every fault of the file."""
    return tuple(limit.model_copy(update={"own": True}) for limit in _limits(path))


@cache
def shipped_limits(jurisdiction: str) -> tuple[Limit, ...]:
    """Return the rows that come with the program for EU, UK or US."""
    with shipped_file(f"{jurisdiction.lower()}.csv") as path:
        return _limits(path)


@cache
def shipped_allergens() -> tuple[Allergen, ...]:
    """Return the declarable fragrance allergens of all jurisdictions."""
    with shipped_file("allergens.csv") as path:
        return read_allergens(path)


@cache
def shipped_molar_masses() -> dict[str, float]:
    """Return the molar masses of the substances that the shipped limits convert [g/mol], by INCI name.

    They are sums of standard atomic weights (IUPAC, abridged, from memory); the library's own values
    come first wherever it has them.
    """
    columns = columns_of("molar_masses", MolarMass, also=("formula", "note"))
    with shipped_file("molar_masses.csv") as path:
        return {row.inci: row.molar_mass for row in read_rows(path, columns, MolarMass)}


def read_allergens(path: Path) -> tuple[Allergen, ...]:
    """Return the rows of an allergens table; every fault of the file is raised at once."""
    rows = read_rows(path, ALLERGENS, Allergen)
    return tuple(
        row if row.members else row.model_copy(update={"members": (row.group_name,)}) for row in rows
    )


def _limits(path: Path) -> tuple[Limit, ...]:
    """Return the rows of a limits table, noting what single cells do not show."""
    faults = Faults(str(path))
    table = read_csv(path, LIMITS, faults)
    if table is None or not all(name in table.cells for name in LIMITS.required):
        raise BadInput(faults.found)
    entries = entries_of(Limit, table, faults, skipped=("equivalents",))
    equivalents = [_equivalents(table, row, faults) for row in range(len(table))]
    for row in range(len(table)):
        _check_row(table, row, faults)
    if faults.found:
        raise BadInput(sorted(faults.found, key=row_of))
    return tuple(
        limit.model_copy(update={"equivalents": told}) if told else limit
        for limit, told in zip(entries.items, equivalents, strict=True)
    )


def _check_row(table: Table, row: int, faults: Faults) -> None:
    """Note a row that states nothing, a basis that lacks, and days in the wrong order."""
    cells = {name: column[row] for name, column in table.cells.items()}
    if cells.get("equivalents") and not cells.get("basis_molar_mass"):
        place = table.place(row, "equivalents")
        faults.add(place, "equivalents without a basis", allowed="a basis_molar_mass in the same row")
    first, last = _day(cells.get("valid_from", "")), _day(cells.get("valid_to", ""))
    if first is not None and last is not None and first > last:
        message = f"{last} is before valid_from {first}"
        faults.add(table.place(row, "valid_to"), message, allowed="a later day, or an empty cell")
    if not cells["max_percent"] and not cells.get("warning") and cells.get("use") != "colourant":
        message = "the row states neither a maximum nor a warning"
        faults.add(table.place(row, "max_percent"), message, allowed="a number from 0 to 100")


def _day(text: str) -> date | None:
    with suppress(ValueError):
        return date.fromisoformat(text)
    return None


def _equivalents(table: Table, row: int, faults: Faults) -> dict[str, float]:
    """Return the equivalents per mole of each substance: one number for all, or ``name=number`` pairs."""
    text = table.cells["equivalents"][row] if "equivalents" in table.cells else ""
    substances = [name.strip() for name in table.cells["substances"][row].split(";")]
    place, found = table.place(row, "equivalents"), dict[str, float]()
    if text and "=" not in text and number(text) is not None:
        text = ";".join(f"{name}={text}" for name in substances)
    for pair in filter(None, map(str.strip, text.split(";"))):
        name, sign, amount = (part.strip() for part in pair.rpartition("="))
        value = number(amount) if sign else None
        if value is None:
            message = f"'{shortened(pair)}' is not understood"
            faults.add(place, message, allowed="a number, or INCI=number;INCI=number")
        elif name not in substances:
            message = f"'{shortened(name)}' is not among the substances"
            faults.add(place, message, allowed="; ".join(substances), nearest=nearest(name, substances))
        elif not 0 < value <= MOST:
            message = f"'{shortened(pair)}' is not allowed"
            faults.add(place, message, allowed=f"a number above 0, up to {MOST:g}")
        else:
            found[name] = value
    return found


def read_rows(path: Path, columns: Columns, model: type[Entry]) -> tuple[Entry, ...]:
    """Return the rows of a table, or raise `BadInput` with every fault of the file."""
    faults = Faults(str(path))
    entries = read_entries(path, model, columns, faults)
    faults.raise_if_any()
    return entries.items


def shipped_file(name: str) -> Any:
    """Return the path of a shipped table, as a context."""
    return as_file(files("optiform.law") / "data" / name)
