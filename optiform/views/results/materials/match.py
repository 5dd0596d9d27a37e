"""Tells a price list or shelf matched to a library, also as a form to confirm."""

from __future__ import annotations

from optiform.library.models import Library
from optiform.library.typed.matched_list import MatchedList, MatchedRow
from optiform.views.words.blocks import Block, Bullets, Column, Heading, Paragraph, Rows, Table
from optiform.views.words.numbers import NOTHING, short

OFFERED = 4
NEXT = (
    "To confirm: write this list with --format csv --out FILE, fill in the column material, match that file again; "
    "--yes writes material and figure for what is certain."
)


def match_blocks(found: MatchedList, library: Library) -> list[Block]:
    """Return the certain rows, and those to be confirmed with their alternatives."""
    certain = found.certain
    open_rows = [row for row in found.rows if not row.material]
    what = f"{library.currency}/kg" if found.kind == "price" else "stock, g"
    blocks: list[Block] = [
        Heading(f"{found.file}, matched to {library.name}", 1),
        Paragraph(f"{len(certain)} of {len(found.rows)} rows certainly mean one material."),
    ]
    if certain:
        columns = (Column("in the list", head=True), Column("material"), Column(what, "decimal"))
        rows = tuple((row.typed, library.material[row.material].name, _figure(row)) for row in certain)
        blocks.append(Table("Certain", columns, rows))
    if open_rows:
        blocks += [Heading("To confirm"), Bullets(tuple(_asked(row, library) for row in open_rows))]
    return [*blocks, Paragraph(NEXT, "quiet")]


def _figure(row: MatchedRow) -> str:
    return NOTHING if row.value is None else short(row.value)


def _asked(row: MatchedRow, library: Library) -> str:
    offered = [f"{library.material[name].name} ({name})" for name in row.alternatives[:OFFERED]]
    more = f"; and {len(row.alternatives) - OFFERED} more" if len(row.alternatives) > OFFERED else ""
    perhaps = f": {'; '.join(offered)}{more}" if offered else ""
    return f"Row {row.row}, {row.typed}: {row.why}{perhaps}."


def form_rows(found: MatchedList, library: Library) -> Rows:
    """Return the list as a form, its column material filled where that is certain."""
    return ("material", "name", "INCI", found.kind, "certain", "called", "alternatives"), [
        (
            row.material,
            row.typed,
            row.inci,
            row.value,
            "yes" if row.material else "no",
            library.material[row.material].name if row.material else row.why,
            " ".join(row.alternatives),
        )
        for row in found.rows
    ]


def certain_rows(found: MatchedList) -> Rows:
    """Return the certain rows as a price list or shelf that briefs and commands read."""
    return ("material", found.kind), [(row.material, row.value) for row in found.certain]
