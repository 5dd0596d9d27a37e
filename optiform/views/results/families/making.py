"""Tells the batch records of a family."""

from __future__ import annotations

from optiform.families.plan_questions import Making
from optiform.sheets.sheet import Sheet
from optiform.views.results.sheet import sheet_blocks
from optiform.views.results.sheet_rows import batch_rows
from optiform.views.words.blocks import Block, Field, Heading, Paragraph, Rows, reworded, tabulated
from optiform.views.words.names import Names
from optiform.views.words.numbers import short

FROM_BASE = "Make the base first; each product is weighed out of it and finished by itself, at its own pH."
IN_ONE_GO = "The plan has no [base]: each product is made in one go."
FIELDS = (
    Field("record", lambda sheet: sheet.title, head=True),
    Field("g", lambda sheet: short(sheet.batch_g), "decimal"),
    Field("to weigh", lambda sheet: str(len(sheet.batch.batch.lines)), "right"),
    Field("steps", lambda sheet: str(len(sheet.batch.procedure.steps)), "right"),
)


def making_blocks(made: Making) -> list[Block]:
    """Return a list of the records, and after it each record."""
    head: list[Block] = [
        Heading(f"{made.title}: batch records", 1),
        Paragraph(FROM_BASE if made.base else IN_ONE_GO),
        tabulated("Records", FIELDS, made.sheets),
    ]
    return [*head, *(block for sheet in made.sheets for block in _record(sheet))]


def _record(sheet: Sheet) -> list[Block]:
    say = Names(sheet.names.items(), sheet.names).said
    return [reworded(block, say) for block in sheet_blocks(sheet)]


def making_rows(made: Making) -> Rows:
    """Return the weighing tables of all records as rows."""
    columns: tuple[str, ...] = ()
    rows = []
    for sheet in made.sheets:
        if sheet.batch is not None:
            columns, own = batch_rows(sheet.batch.batch)
            rows += [(sheet.title, *row) for row in own]
    return ("record", *columns), rows
