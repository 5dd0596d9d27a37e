"""Matches a price list or a shelf with names of its own to the materials of a library."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from optiform.faults import BadInput, Faults
from optiform.library.files.columns import number, number_fault
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.tables import Columns, Table, row_of
from optiform.library.models import MOST_GRAMS, MOST_MONEY, Library
from optiform.library.typed.formula_table import NAMING
from optiform.library.typed.masses import mass_of
from optiform.library.typed.matching import Matcher, matcher

Kind = Literal["price", "stock_g"]
WRITTEN = ("certain", "called", "alternatives")
"""Columns of the form that this program writes and reads again, beside name and figure."""

COLUMNS = Columns(
    "price list",
    (NAMING[0], "price", "stock_g", *NAMING[1:], *WRITTEN, "supplier", "note"),
    (),
    typed=True,
    also={
        "price per kg": "price", "price/kg": "price", "eur/kg": "price", "stock": "stock_g", "stock g": "stock_g",
        "g": "stock_g", "grams": "stock_g", "product": "name", "article": "name",
    },
)  # fmt: skip
NEAR = 3
"""Near misses that are offered where no name fits."""


@dataclass(frozen=True)
class MatchedRow:
    """One row of a list, and what it may mean.

    Attributes
    ----------
    row : int
        Where it stands in the file; the header is row 1.
    typed, inci : str
        Its name and its INCI name as they stand there.
    material : str
        Id of the one material that it certainly means; empty where that is to be confirmed.
    alternatives : tuple of str
        Ids to choose from, where nothing is certain: all that the name may mean, or the nearest names.
    value : float, optional
        Its price [currency/kg] or stock [g].
    why : str
        Why nothing is certain.
    """

    row: int
    typed: str
    material: str = ""
    alternatives: tuple[str, ...] = ()
    value: float | None = None
    why: str = ""
    inci: str = ""


@dataclass(frozen=True)
class MatchedList:
    """A whole list, matched.

    Attributes
    ----------
    kind : str
        What its figures are: price or stock_g.
    """

    file: str
    kind: Kind
    rows: tuple[MatchedRow, ...]

    @property
    def certain(self) -> tuple[MatchedRow, ...]:
        """Return the rows that certainly mean one material."""
        return tuple(row for row in self.rows if row.material)


def match_list(path: str | Path, library: Library) -> MatchedList:
    """Match a price list or a shelf by name or INCI name to the materials of a library.

    Parameters
    ----------
    path : str or Path
        A table with a column material, ingredient, name or INCI, and one of prices per kg or of stock. A list that
        this question wrote may have its column ``material`` filled in by hand: that decides.

    Raises
    ------
    BadInput
        A file without such columns; figures that are no numbers or below 0.
    """
    path = Path(path)
    faults = Faults(str(path))
    table = read_csv(path, COLUMNS, faults)
    kind = None if table is None else _kind(table, faults)
    rows: list[MatchedRow] = []
    if table is not None and kind is not None:
        known = matcher(library)
        rows = [_row(table, entry, kind, known, faults) for entry in range(len(table))]
        if not rows and not table.damaged:
            faults.add(table.header(), "the list has no rows", allowed="a name and a figure in each row")
    if faults.found or kind is None:
        raise BadInput(sorted(faults.found, key=row_of))
    return MatchedList(str(path), kind, _once_each(rows))


def _kind(table: Table, faults: Faults) -> Kind | None:
    every: tuple[Kind, ...] = ("price", "stock_g")
    kinds = [kind for kind in every if kind in table.cells]
    if not any(name in table.cells for name in NAMING):
        faults.add(
            table.header(), "no column names the materials", allowed="material, ingredient, name or INCI"
        )
    if len(kinds) != 1:
        message = "both prices and stock are given" if kinds else "no figures are given"
        faults.add(table.header(), message, allowed="one column: price (per kg), or stock_g")
        return None
    return kinds[0]


def _row(table: Table, entry: int, kind: Kind, known: Matcher, faults: Faults) -> MatchedRow:
    """Match one row: a filled-in id decides, then the names together."""
    value = _value(table, entry, kind, faults)
    texts = {
        name: table.cells[name][entry] for name in NAMING if table.cells.get(name, [""] * len(table))[entry]
    }
    typed = next((text for name, text in texts.items() if name != "material"), texts.get("material", ""))
    if not texts:
        naming = next((name for name in NAMING if name in table.cells), "")
        faults.add(table.place(entry, naming), "the cell is empty", allowed="a name")
        return MatchedRow(table.rows[entry], typed)
    found, _ = known.match([(text, name == "inci") for name, text in texts.items()])
    row = MatchedRow(table.rows[entry], typed, value=value, inci=texts.get("inci", ""))
    if len(found) == 1:
        return replace(row, material=found[0])
    if found:
        return replace(row, alternatives=found, why=f"could be {len(found)} materials")
    near = tuple(dict.fromkeys(filter(None, (known.nearest(text) for text in texts.values()))))
    return replace(row, alternatives=near[:NEAR], why="nothing in the library has this name")


def _value(table: Table, entry: int, kind: Kind, faults: Faults) -> float | None:
    cell, place = table.cells[kind][entry], table.place(entry, kind)
    if not cell:
        if kind == "price":
            faults.add(place, "the cell is empty", allowed="a price, 0 or more")
        return None
    value = number(cell, comma_decimals=table.comma_decimals)
    if value is None and kind == "stock_g":
        return mass_of(cell, place, faults)
    most = MOST_MONEY if kind == "price" else MOST_GRAMS
    if value is None:
        message, allowed, near = number_fault(cell, "a number, 0 or more")
        faults.add(place, message, allowed=allowed, nearest=near)
    elif not 0 <= value <= most:
        faults.add(place, f"{value:g} is out of range", allowed=f"a number from 0 to {most:g}")
    return value


def _once_each(rows: list[MatchedRow]) -> tuple[MatchedRow, ...]:
    """Return the rows with none certain of a material that another means as well: which of them counts is asked."""
    meaning: dict[str, list[MatchedRow]] = defaultdict(list)
    for row in rows:
        if row.material:
            meaning[row.material].append(row)
    told = []
    for row in rows:
        others = [other.row for other in meaning.get(row.material, ()) if other is not row]
        if others:
            why = f"row {', '.join(map(str, others))} means the same material"
            told.append(replace(row, material="", alternatives=(row.material,), why=why))
        else:
            told.append(row)
    return tuple(told)
