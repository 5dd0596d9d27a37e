"""Writes tables as CSV: UTF-8, commas between columns, decimal points, a header row, every digit."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence

from optiform.faults import FORMULA_MARKS, printable
from optiform.views.words.blocks import Cell


def table(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return rows under a header as CSV text; what is absent or not finite is an empty cell.

    A text that a spreadsheet would take for a formula gets an apostrophe in front; numbers stay numbers.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([_cell(column) for column in columns])
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue()


def _cell(cell: Cell) -> str:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if not isinstance(cell, str):
        return repr(float(cell) + 0.0) if isinstance(cell, float) else str(cell)
    return f"'{printable(cell)}" if cell.startswith(FORMULA_MARKS) else printable(cell)
