"""Turns cells of text into typed values, column by column."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter, ValidationError

from optiform.faults import Faults, nearest
from optiform.library.files.column_shapes import DAY, Kind, Shape, shapes
from optiform.library.files.tables import Table
from optiform.library.models import MOST, Frozen

Entry = TypeVar("Entry", bound=Frozen)
Held_co = TypeVar("Held_co", bound=Frozen, covariant=True)
NUMBER_SIGNS = frozenset("0123456789.+-eE")
THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
COMMA_DECIMAL = re.compile(r"[+-]?(\d+|\d{1,3}(\.\d{3})+),\d+")
ID_WORDS = "lower case letters, digits, dots, dashes and underscores, a letter or digit first"


@dataclass(frozen=True)
class Entries(Generic[Held_co]):
    """The sound entries of a table, each with its place.

    Attributes
    ----------
    table : Table, optional
        Where they were read; None for entries built in memory.
    items : tuple
        The values.
    at : tuple of int
        For each value its entry in the table.
    """

    table: Table | None
    items: tuple[Held_co, ...]
    at: tuple[int, ...] = ()

    def place(self, i: int, column: str = "") -> tuple[str, str]:
        """Return the file and the place of the i-th value."""
        return self.spot(self.at[i] if self.at else i, column)

    def spot(self, entry: int, column: str = "") -> tuple[str, str]:
        """Return the file and the place of an entry of the table, sound or not."""
        if self.table is None:
            return "", f"entry {entry + 1}" + (f", {column}" if column else "")
        return self.table.file, self.table.place(entry, column)

    def texts(self, column: str) -> Sequence[str]:
        """Return what a column holds, entry by entry, faulty entries included."""
        if self.table is None:
            return [str(getattr(item, column)) for item in self.items]
        return self.table.cells.get(column, ())

    def written(self, column: str) -> frozenset[str]:
        """Return every text that the column holds, also of rows that do not fit the header."""
        damaged = self.table.damaged if self.table is not None else ()
        rest = {row.get(column, "").strip() for row in damaged}
        return frozenset(self.texts(column)).union(rest) - {""}

    def faulty(self, column: str) -> frozenset[str]:
        """Return the texts of a column in the entries that are not among the values."""
        if self.table is None:
            return frozenset()
        sound = set(self.at)
        texts = {text for entry, text in enumerate(self.texts(column)) if entry not in sound}
        return frozenset(texts.union(row.get(column, "").strip() for row in self.table.damaged))


def number(cell: str, *, comma_decimals: bool = False) -> float | None:
    """Return the number that a cell holds, or None when it holds none.

    Only plain decimal notation counts: no nan, no infinity, no thousands, no underscores.
    """
    if comma_decimals:
        cell = cell.replace(",", ".")
    if not NUMBER_SIGNS.issuperset(cell):
        return None
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def two_readings(text: str) -> tuple[str, str] | None:
    """Return both numbers that a figure written by hand may be: "1,500" is 1500 or 1.500; None where it is one."""
    if not THOUSANDS.fullmatch(text.strip()):
        return None
    return text.strip().replace(",", ""), text.strip().replace(",", ".")


def number_fault(cell: str, allowed: str) -> tuple[str, str, str]:
    """Return message, allowed values and nearest reading of a cell that is no number."""
    wanted = allowed or "a number, decimals by '.'"
    if COMMA_DECIMAL.fullmatch(cell):
        whole, _, decimals = cell.partition(",")
        wanted = wanted if "'.'" in wanted else f"{wanted}, decimals by '.'"
        return f"'{cell}' has a decimal comma", wanted, f"{whole.replace('.', '')}.{decimals}"
    return f"'{shortened(cell)}' is not a number", wanted, ""


def shortened(text: str, longest: int = 60) -> str:
    """Return a text short enough to be quoted in a message."""
    return text if len(text) <= longest else text[: longest - 3] + "..."


def entries_of(
    model: type[Entry],
    table: Table,
    faults: Faults,
    extra: Sequence[str] = (),
    skipped: Sequence[str] = (),
) -> Entries[Entry]:
    """Turn the rows of a table into values, noting every cell that cannot be one.

    Parameters
    ----------
    faults : Faults
        Gathers a fault for each bad cell: its row, column, value and what is allowed.
    extra : sequence of str
        Columns whose numbers go to the value's `extra`, in addition to a field of the same name.
    skipped : sequence of str
        Columns that the caller reads.
    """
    cells = _Cells(table, faults)
    there = table.cells.keys() - set(skipped)
    columns = {name: cells.read(name, shape) for name, shape in shapes(model).items() if name in there}
    if extra:
        columns["extra"] = cells.extra(extra, shapes(model))
    if any(shape.blank is ... and name not in columns for name, shape in shapes(model).items()):
        return Entries(table, ())
    names = tuple(columns)
    records = [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    return _validated(model, records, cells)


def _validated(model: type[Entry], records: list[dict[str, Any]], cells: _Cells) -> Entries[Entry]:
    """Build the values; what the model refuses (a number out of its range) becomes a fault."""
    adapter = TypeAdapter(tuple[model, ...])  # type: ignore[valid-type]
    details: Sequence[Any] = ()
    try:
        sound = adapter.validate_python(records)
    except ValidationError as error:
        details = error.errors(include_url=False)
    for detail in details:
        entry, column = int(detail["loc"][0]), str(detail["loc"][1])
        if column in cells.bad.get(entry, ()):
            continue
        allowed = shapes(model)[column].allowed
        if detail["type"] == "string_pattern_mismatch":
            allowed = ID_WORDS
        written = shortened(cells.table.cells[column][entry])
        cells.refuse(entry, column, f"'{written}' is not allowed", allowed)
    kept = [entry for entry in range(len(records)) if entry not in cells.bad]
    if cells.bad:
        sound = adapter.validate_python([records[entry] for entry in kept])
    return Entries(cells.table, sound, tuple(kept))


def _words_in(cell: str, kind: Kind) -> tuple[str, ...]:
    """Return the words of a cell: apart by blanks, names apart by semicolons, or the one that it is."""
    if kind == "names":
        return tuple(dict.fromkeys(filter(None, map(str.strip, cell.split(";")))))
    return tuple(cell.split()) if kind == "words" else (cell,) * bool(cell)


@dataclass
class _Cells:
    """Reads the columns of one table and remembers the columns of bad cells, by their entry."""

    table: Table
    faults: Faults
    bad: dict[int, set[str]] = field(default_factory=dict)

    def refuse(self, entry: int, column: str, message: str, allowed: str = "", near: str = "") -> None:
        self.bad.setdefault(entry, set()).add(column)
        place = self.table.place(entry, column)
        self.faults.add(place, message, allowed=allowed, nearest=near, file=self.table.file)

    def read(self, name: str, shape: Shape) -> Sequence[Any]:
        cells = self.table.cells[name]
        if shape.blank is ... and "" in cells:
            for entry, cell in enumerate(cells):
                if not cell:
                    self.refuse(entry, name, "the cell is empty", shape.allowed)
        if shape.kind == "number":
            return self.numbers(name, cells, shape)
        if shape.kind == "numbers":
            return [self.number_list(name, entry, cell) for entry, cell in enumerate(cells)]
        if shape.kind == "text":
            return cells
        if shape.kind == "day":
            return [self.day(name, entry, cell) if cell else shape.blank for entry, cell in enumerate(cells)]
        if shape.kind == "names":
            self.judge_repeated(name, cells)
        lists = {cell: _words_in(cell, shape.kind) for cell in set(cells)}
        if shape.words:
            self.judge_words(name, cells, shape, lists)
        if shape.kind in ("words", "names"):
            return [lists[cell] for cell in cells]
        return [cell or shape.blank for cell in cells]

    def day(self, name: str, entry: int, cell: str) -> date | None:
        try:
            return date.fromisoformat(cell)
        except ValueError:
            self.refuse(entry, name, f"'{shortened(cell)}' is not a date", DAY)
            return None

    def judge_repeated(self, name: str, cells: Sequence[str]) -> None:
        for entry, cell in enumerate(cells):
            folded = [word.casefold() for word in _words_in(cell, "names")]
            for word in _words_in(cell, "names"):
                if folded.count(word.casefold()) > 1:
                    self.refuse(entry, name, f"'{shortened(word)}' appears twice", "each name once")

    def judge_words(
        self, name: str, cells: Sequence[str], shape: Shape, words: Mapping[str, Sequence[str]]
    ) -> None:
        wrong = {cell: [word for word in found if word not in shape.words] for cell, found in words.items()}
        near: dict[str, str] = {}
        for entry, cell in enumerate(cells) if any(wrong.values()) else ():
            for word in wrong.get(cell, ()):
                if word not in near:
                    near[word] = nearest(word[:60], shape.words)
                self.refuse(entry, name, f"'{shortened(word)}' is not known", shape.allowed, near[word])

    def numbers(self, name: str, cells: Sequence[str], shape: Shape) -> Sequence[float | None]:
        blank = None if shape.blank is ... else shape.blank
        comma = self.table.comma_decimals
        read = {cell: number(cell, comma_decimals=comma) if cell else blank for cell in set(cells)}
        if any(value is None and cell for cell, value in read.items()):
            for entry, cell in enumerate(cells):
                if cell and read[cell] is None:
                    self.refuse(entry, name, *number_fault(cell, shape.allowed))
        return list(map(read.__getitem__, cells))

    def number_list(self, name: str, entry: int, cell: str) -> tuple[float, ...]:
        values: list[float] = []
        for text in cell.split(";") if cell else ():
            value = number(text.strip(), comma_decimals=self.table.comma_decimals)
            if value is None:
                self.refuse(entry, name, *number_fault(text.strip(), "numbers separated by ';'"))
            else:
                values.append(value)
        return tuple(values)

    def extra(self, names: Sequence[str], known: Mapping[str, Shape]) -> Sequence[dict[str, float]]:
        found: list[dict[str, float]] = [{} for _ in range(len(self.table))]
        for name in names:
            cells = self.table.cells.get(name, ())
            values: Sequence[float | None]
            if name in known:
                values = [number(cell, comma_decimals=self.table.comma_decimals) for cell in cells]
            else:
                values = self.numbers(name, cells, Shape("number", blank=None))
                for entry, value in enumerate(values):
                    if value is not None and abs(value) > MOST:
                        allowed = f"a number from {-MOST:g} to {MOST:g}"
                        self.refuse(entry, name, f"'{shortened(cells[entry])}' is not allowed", allowed)
            for entry, value in enumerate(values):
                if value is not None:
                    found[entry][name] = value
        return found
