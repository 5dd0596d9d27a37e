"""A formula as somebody typed it: read tolerantly, judged strictly elsewhere."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from optiform.faults import BadInput, Faults
from optiform.library.checking.names import Names
from optiform.library.files.columns import number, number_fault, shortened
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.tables import Columns, row_of
from optiform.library.models import MOST

if TYPE_CHECKING:
    from optiform.library.files.tables import Table
    from optiform.library.models import Library

REST = re.compile(r"q\.?\s*s\.?(\s*(to|ad)?\s*100\s*%?)?", re.IGNORECASE)
MOST_LINES = 10_000
COLUMNS = Columns("formula", ("material", "percent", "grams", "name", "phase", "note"), ("material",))


@dataclass(frozen=True)
class TypedFormula:
    """A formula as typed, in % w/w.

    Attributes
    ----------
    name : str
        The file's name without its ending.
    file : str
        The file as the user named it; empty for a formula built in memory.
    lines : tuple of (str, float)
        Material id and % w/w, in the order of the file, each material once.
    total : float
        Sum of the lines [% w/w]; 100 only where the file says so.
    grams : float, optional
        Mass of the batch [g], where the file gives grams.
    notes : tuple of str
        What was understood rather than read: merged lines, the rest taken as q.s.
    """

    name: str
    lines: tuple[tuple[str, float], ...]
    total: float
    file: str = ""
    grams: float | None = None
    notes: tuple[str, ...] = ()

    @property
    def amounts(self) -> dict[str, float]:
        """Return % w/w by material id."""
        return dict(self.lines)


def read_formula(path: str | Path, library: Library) -> TypedFormula:
    """Read a formula from CSV, or from a workbook's sheet ``formula`` or first sheet.

    Parameters
    ----------
    path : str or Path
        Columns ``material,percent`` or ``material,grams``; columns ``name``, ``phase`` and ``note``
        may stand beside them for the reader. ``q.s.`` in one line of percents means the rest to
        100 %. A total off 100 is taken as it is.
    library : Library
        Whose material ids are used.

    Raises
    ------
    BadInput
        With every fault: unknown materials, amounts that are no number or below 0, more than one
        q.s., nothing left for it, a formula without lines.
    """
    path = Path(path)
    faults = Faults(str(path))
    table = _table(path, faults)
    formula = _formula(table, path, library, faults) if table is not None else None
    if faults.found or formula is None:
        raise BadInput(sorted(faults.found, key=row_of))
    return formula


def _table(path: Path, faults: Faults) -> Table | None:
    if path.suffix.lower() != ".xlsx":
        return read_csv(path, COLUMNS, faults)
    from optiform.library.files.tables import table_of
    from optiform.library.files.xlsx_tables import read_workbook

    workbook = read_workbook(path, faults, lambda names: ["formula" if "formula" in names else names[0]])
    if workbook is None:
        return None
    (raw,) = workbook.sheets.values()
    return table_of(raw, COLUMNS, faults)


def _formula(table: Table, path: Path, library: Library, faults: Faults) -> TypedFormula | None:
    units = [name for name in ("percent", "grams") if name in table.cells]
    if len(units) != 1 or "material" not in table.cells:
        if len(units) != 1:
            message = "both percent and grams are given" if units else "no amounts are given"
            faults.add(table.header(), message, allowed="one column: percent, or grams")
        return None
    if len(table) > MOST_LINES:
        faults.add("", f"{len(table):,} lines", allowed=f"a formula of up to {MOST_LINES:,} lines")
        return None
    if not len(table):
        if not table.damaged:
            faults.add(table.header(), "the formula has no lines", allowed="material and amount in each line")
        return None
    amounts, rest, notes = _amounts(table, units[0], library, faults)
    total = math.fsum(amounts.values())
    grams = None
    if units[0] == "grams":
        if rest is not None:
            place = table.place(rest, "grams")
            faults.add(place, "q.s. has no meaning among grams", allowed="grams in every line, or percents")
        elif total <= 0:
            faults.add(table.header(), "the grams add to nothing", allowed="amounts above 0")
        else:
            grams = total
            amounts = {name: 100.0 * amount / total for name, amount in amounts.items()}
    elif rest is not None:
        if total > 100.0:
            message = f"nothing is left for q.s.: the other lines add to {total:.10g} %"
            faults.add(table.place(rest, "percent"), message, allowed="other lines of 100 % or less")
        name, left = table.cells["material"][rest], round(100.0 - total, 10)
        amounts[name] = amounts[name] + left
        notes.append(f"{name} is q.s.: {left:.10g} % as the rest to 100 %")
    total = 100.0 if rest is not None or grams is not None else math.fsum(amounts.values())
    return TypedFormula(path.stem, tuple(amounts.items()), total, str(path), grams, tuple(notes))


def _amounts(
    table: Table, unit: str, library: Library, faults: Faults
) -> tuple[dict[str, float], int | None, list[str]]:
    """Return amounts by material, the entry that is q.s., and notes on merged lines."""
    known = Names(library.material)
    by_name = {material.name.casefold(): material.id for material in library.materials}
    amounts: dict[str, float] = {}
    stands: dict[str, list[int]] = defaultdict(list)
    rest: int | None = None
    for entry, (name, cell) in enumerate(zip(table.cells["material"], table.cells[unit], strict=True)):
        if not name:
            faults.add(table.place(entry, "material"), "the cell is empty", allowed="the id of a material")
        elif name not in known:
            near = by_name.get(name.casefold()) or known.nearest(name)
            message = f"there is no material '{shortened(name)}' in the library"
            faults.add(table.place(entry, "material"), message, nearest=near)
        stands[name].append(entry)
        amounts.setdefault(name, 0.0)
        if REST.fullmatch(cell):
            if rest is not None:
                place = table.place(entry, unit)
                faults.add(place, f"q.s. stands already in {table.place(rest)}", allowed="q.s. in one line")
            rest = entry if rest is None else rest
            continue
        amounts[name] += _amount(table, entry, unit, cell, faults)
    merged = {name: entries for name, entries in stands.items() if name and len(entries) > 1}
    notes = []
    for name, entries in merged.items():
        rows = ", ".join(str(table.rows[entry]) for entry in entries)
        notes.append(f"{name} stands in rows {rows}; the amounts are added")
    return amounts, rest, notes


def _amount(table: Table, entry: int, unit: str, cell: str, faults: Faults) -> float:
    """Return one amount, or 0 after noting what is wrong with it."""
    allowed = "a number, 0 or more" + (", or q.s." if unit == "percent" else "")
    place = table.place(entry, unit)
    if not cell and any(fault.place == place for fault in faults.found):
        return 0.0
    if not cell:
        faults.add(place, "the cell is empty", allowed=allowed)
        return 0.0
    text = cell.removesuffix("%" if unit == "percent" else "g").strip()
    value = number(text, comma_decimals=table.comma_decimals)
    if value is None:
        message, wanted, near = number_fault(text, allowed)
        faults.add(place, message, allowed=wanted, nearest=near)
        return 0.0
    if value < 0:
        faults.add(place, f"{value:.10g} is below 0", allowed=allowed)
        return 0.0
    if value > MOST:
        faults.add(place, f"{value:g} is out of range", allowed=f"a number from 0 to {MOST:g}")
        return 0.0
    return value
