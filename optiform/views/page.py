"""Blocks as one self-contained page: headings, lists and tables that a screen reader can walk."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from optiform.views.blocks import Block, Bullets, Heading, Paragraph, Source

if TYPE_CHECKING:
    from collections.abc import Iterable

    from optiform.views.blocks import Column, Table

STYLE = """\
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem;
       color: #1a1a1a; background: #fff; }
table { border-collapse: collapse; margin: 1rem 0; }
caption { text-align: left; font-style: italic; padding-bottom: .3rem; }
th, td { border-bottom: 1px solid #bbb; padding: .25rem .75rem .25rem 0; text-align: left; vertical-align: top; }
th[scope=row] { font-weight: normal; }
.figure { text-align: right; font-variant-numeric: tabular-nums; }
tfoot td, tfoot th { border-top: 2px solid #1a1a1a; font-weight: bold; }
.caution { border-left: .3rem solid #a65e00; padding-left: 1rem; }
.bad { border-left: .3rem solid #a40000; padding-left: 1rem; }
pre { overflow-x: auto; }
@media print { body { margin: 0; max-width: none; } tr { break-inside: avoid; } }
"""


def render(blocks: Iterable[Block], title: str) -> str:
    """Return blocks as one HTML page without scripts or outside files."""
    body = "\n".join(_element(block) for block in blocks)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n"
        "</body>\n</html>\n"
    )


def _element(block: Block) -> str:
    if isinstance(block, Heading):
        return f"<h{block.level}>{escape(block.text)}</h{block.level}>"
    if isinstance(block, Paragraph):
        return f"<p{_tone(block.tone)}>{escape(block.text)}</p>"
    if isinstance(block, Bullets):
        kind = "ol" if block.numbered else "ul"
        items = "".join(f"<li>{escape(item)}</li>\n" for item in block.items)
        return f"<{kind}{_tone(block.tone)}>\n{items}</{kind}>"
    if isinstance(block, Source):
        return f"<pre>{escape(block.text)}</pre>"
    return _table(block)


def _tone(tone: str) -> str:
    return f' class="{tone}"' if tone in ("caution", "bad") else ""


def _table(table: Table) -> str:
    head = "".join(
        f'<th scope="col"{_figure(column.align)}>{escape(column.title)}</th>' if column.title else "<td></td>"
        for column in table.columns
    )
    rows = "\n".join(_row(table, row) for row in table.rows)
    foot = f"\n<tfoot>\n{_row(table, table.total)}\n</tfoot>" if table.total else ""
    return (
        f"<table>\n<caption>{escape(table.caption)}</caption>\n<thead>\n<tr>{head}</tr>\n</thead>\n"
        f"<tbody>\n{rows}\n</tbody>{foot}\n</table>{_notes(table)}"
    )


def _notes(table: Table) -> str:
    return "".join(f"\n<p>{escape(column.note)}</p>" for column in table.columns if column.note)


def _row(table: Table, cells: tuple[str, ...]) -> str:
    return (
        f"<tr>{''.join(_cell(column, cell) for column, cell in zip(table.columns, cells, strict=True))}</tr>"
    )


def _cell(column: Column, cell: str) -> str:
    if column.head and cell:
        return f'<th scope="row">{escape(cell)}</th>'
    return f"<td{_figure(column.align)}>{escape(cell)}</td>"


def _figure(align: str) -> str:
    return "" if align == "left" else ' class="figure"'
