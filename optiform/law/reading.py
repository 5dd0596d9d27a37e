"""Reading the law of a place, and a library's own limits beside it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, TypeVar

from optiform.faults import Faults
from optiform.law.cells import Cells
from optiform.law.models import (
    AREAS,
    LABEL_RULES,
    USES,
    Allergen,
    Jurisdiction,
    Law,
    Limit,
    MolarMass,
    place_of,
)
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.opening import is_file, is_folder
from optiform.library.files.tables import Columns
from optiform.library.models import Frozen, Library

Entry = TypeVar("Entry", bound=Frozen)
LIMIT_COLUMNS = (
    "jurisdiction", "product", "area", "users", "use", "group", "substances", "max_percent",
    "basis_molar_mass", "equivalents", "entry", "warning", "valid_from", "valid_to", "source",
)  # fmt: skip
LIMITS = Columns("limits", LIMIT_COLUMNS, ("jurisdiction", "substances", "max_percent"))
ALLERGEN_COLUMNS = (
    "jurisdiction", "group_name", "members", "rinse_off_percent", "leave_on_percent", "valid_from", "source",
)  # fmt: skip
ALLERGENS = Columns("allergens", ALLERGEN_COLUMNS, ALLERGEN_COLUMNS[:5])
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
    """Return the law of a place on a day, a library's own ``limits.csv`` and ``allergens.csv`` counted in.

    Raises
    ------
    BadInput
        As `load_law`.
    """
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
    """Return the rows of a library's own tables.

    Raises
    ------
    BadInput
        With the faults of both.
    """
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
    """Return the rows of a library's own limits table; every fault of the file is raised at once.

    Raises
    ------
    BadInput
        Unknown or missing columns, words that are not known, numbers out of range, dates that are none.
    """
    return tuple(limit.model_copy(update={"own": True}) for limit in read_rows(path, LIMITS, Limit, _limit))


@cache
def shipped_limits(jurisdiction: str) -> tuple[Limit, ...]:
    """Return the rows that come with the program for EU, UK or US."""
    with shipped_file(f"{jurisdiction.lower()}.csv") as path:
        return read_rows(path, LIMITS, Limit, _limit)


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
    columns = Columns("molar_masses", ("inci", "molar_mass", "formula", "note"), ("inci", "molar_mass"))
    with shipped_file("molar_masses.csv") as path:
        rows = read_rows(
            path,
            columns,
            MolarMass,
            lambda cells: {"inci": cells.text("inci"), "molar_mass": cells.positive("molar_mass")},
        )
    return {row.inci: row.molar_mass for row in rows}


def read_allergens(path: Path) -> tuple[Allergen, ...]:
    """Return the rows of an allergens table; every fault of the file is raised at once."""
    return read_rows(path, ALLERGENS, Allergen, _allergen)


def _allergen(cells: Cells) -> dict[str, Any]:
    for column in ("rinse_off_percent", "leave_on_percent"):
        cells.needed(column, "a number from 0 to 100")
    return {
        "jurisdiction": cells.word("jurisdiction", ("EU", "UK", "US", "any"), "any"),
        "group_name": cells.needed("group_name", "the name on the label"),
        "members": cells.names("members") or (cells.text("group_name"),),
        "rinse_off_percent": cells.percent("rinse_off_percent"),
        "leave_on_percent": cells.percent("leave_on_percent"),
        "valid_from": cells.day("valid_from"),
    }


def _limit(cells: Cells) -> dict[str, Any]:
    """Read one row of a limits table, noting all that is wrong with it."""
    cells.needed("jurisdiction", "EU, UK, US, any")
    substances = cells.names("substances")
    if not substances:
        cells.refuse("substances", "the cell is empty", "INCI names with semicolons between")
    basis = cells.positive("basis_molar_mass")
    equivalents = cells.equivalents("equivalents", substances)
    if cells.text("equivalents") and not cells.text("basis_molar_mass"):
        cells.refuse("equivalents", "equivalents without a basis", "a basis_molar_mass in the same row")
    first, last = cells.day("valid_from"), cells.day("valid_to")
    if first is not None and last is not None and first > last:
        cells.refuse("valid_to", f"{last} is before valid_from {first}", "a later day, or an empty cell")
    areas = cells.names("area", (*AREAS, "any"))
    most, use, warning = cells.percent("max_percent"), cells.word("use", USES, "any"), cells.text("warning")
    if not cells.text("max_percent") and not warning and use != "colourant":
        cells.refuse(
            "max_percent", "the row states neither a maximum nor a warning", "a number from 0 to 100"
        )
    return {
        "jurisdiction": cells.word("jurisdiction", ("EU", "UK", "US", "any"), "any"),
        "product": cells.word("product", ("rinse-off", "leave-on", "any"), "any"),
        "area": () if "any" in areas else areas,
        "users": cells.text("users"),
        "use": use,
        "group": cells.text("group"),
        "substances": substances,
        "max_percent": most,
        "basis_molar_mass": basis,
        "equivalents": equivalents,
        "entry": cells.text("entry"),
        "warning": warning,
        "valid_from": first,
        "valid_to": last,
    }


def read_rows(
    path: Path, columns: Columns, model: type[Entry], values: Callable[[Cells], dict[str, Any]]
) -> tuple[Entry, ...]:
    """Return the rows of a table, each with its source and its trust where it has them.

    Raises
    ------
    BadInput
        With every fault of the file.
    """
    faults, found = Faults(), []
    table = read_csv(path, columns, faults)
    if table is not None and all(name in table.cells for name in columns.required):
        for row in range(len(table)):
            cells, before = Cells(table, row, faults), len(faults.found)
            fields = values(cells)
            if "source" in columns.known:
                fields["trust"], fields["source"] = cells.sourced()
            if len(faults.found) == before:
                found.append(model(**fields))
    faults.raise_if_any()
    return tuple(found)


def shipped_file(name: str) -> Any:
    """Return the path of a shipped table, as a context."""
    return as_file(files("optiform.law") / "data" / name)
