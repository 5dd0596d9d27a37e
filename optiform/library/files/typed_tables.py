"""Reads a CSV file as typed rows, its columns named by the fields of a model."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from pathlib import Path
from typing import TypeVar

from optiform.faults import Faults
from optiform.library.files.column_shapes import shapes
from optiform.library.files.columns import Entries, entries_of
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.opening import ROWS
from optiform.library.files.tables import Columns
from optiform.library.models import Frozen

Entry = TypeVar("Entry", bound=Frozen)


def columns_of(
    name: str,
    model: type[Frozen],
    *,
    also: Iterable[str] = (),
    without: Collection[str] = (),
    required: tuple[str, ...] = (),
    most: int = ROWS,
) -> Columns:
    """Return what the columns of a table may be called: the fields of its rows, and `also` further ones.

    Fields in `without` are no columns. Those without a default must be there; `required` stands in for them.
    """
    known = {column: shape for column, shape in shapes(model).items() if column not in without}
    needed = required or tuple(column for column, shape in known.items() if shape.blank is ...)
    return Columns(name, tuple(dict.fromkeys((*known, *also))), needed, most)


def read_entries(path: Path, model: type[Entry], columns: Columns, faults: Faults) -> Entries[Entry]:
    """Return the sound rows of a CSV file with their places; none, without a table, where it cannot be read."""
    table = read_csv(path, columns, faults)
    return Entries(None, ()) if table is None else entries_of(model, table, faults)
