"""Answers and tables as CSV: UTF-8, a comma, a point, a header row; every digit."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

from optiform.faults import FORMULA_MARKS, printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from optiform.answers.model.answer import Answer, Conflict

    Cell = str | float | int | None

FORMULA_COLUMNS = (
    "rank", "material", "name", "function", "phase", "percent", "low", "high", "cost", "currency",
)  # fmt: skip
CONFLICT_COLUMNS = (
    "part", "requirement", "measure", "side", "bound", "unit", "origin", "movable", "to", "readmit", "cost",
)  # fmt: skip


def table(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return rows under a header as CSV text; what is absent or not finite is an empty cell.

    A text that a spreadsheet would take for a formula gets an apostrophe in front; numbers stay numbers.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([_cell(column) for column in columns])
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue()


def answer_table(answer: Answer) -> str:
    """Return the lines of every formula, one per row; of a conflict, its requirements and ways out."""
    if answer.conflict is not None:
        return table(CONFLICT_COLUMNS, _conflict_rows(answer.conflict))
    return table(
        FORMULA_COLUMNS,
        (
            (
                formula.rank,
                line.material,
                line.name,
                line.function,
                line.phase,
                line.percent,
                line.low,
                line.high,
                line.cost,
                formula.currency,
            )
            for formula in answer.formulas
            for line in formula.lines
        ),
    )


def _conflict_rows(conflict: Conflict) -> Iterable[Sequence[Cell]]:
    from optiform.views.words.conflict_words import given_up

    apart = [("collides as well", more) for more in conflict.more]
    parts = (("collides", conflict.requirements), ("does not move", conflict.not_movable), *apart)
    for part, items in parts:
        for item in items:
            movable = "yes" if item.movable else "no"
            yield (
                part,
                item.title,
                item.measure,
                item.side,
                item.bound,
                item.unit,
                item.origin,
                movable,
                "",
                "",
                "",
            )
    together = conflict.together
    changes = [("single change", change, change.cost) for change in conflict.single_changes]
    if together is not None:
        changes += [("together", change, together.cost) for change in together.changes]
    for part, change, cost in changes:
        item = change.requirement
        to = "dropped" if given_up(change) else change.to
        readmit = " ".join(change.readmit)
        yield (
            part, item.title, item.measure, item.side, item.bound, item.unit, item.origin, "yes",
            to, readmit, cost,
        )  # fmt: skip
    for part_of in conflict.compromise:
        item = part_of.requirement
        yield (
            "compromise", item.title, item.measure, item.side, item.bound, item.unit, item.origin, "yes",
            part_of.to, "", conflict.compromise_cost,
        )  # fmt: skip


def _cell(cell: Cell) -> str:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if not isinstance(cell, str):
        return repr(float(cell) + 0.0) if isinstance(cell, float) else str(cell)
    return f"'{printable(cell)}" if cell.startswith(FORMULA_MARKS) else printable(cell)
