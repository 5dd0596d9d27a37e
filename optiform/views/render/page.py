"""Blocks as one self-contained page: headings, lists and tables that a screen reader can walk."""

from __future__ import annotations

from functools import cache
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING

from optiform.views.render.blocks import Block, Bullets, Drawn, Heading, Paragraph, Source, Table
from optiform.views.render.html import Markup, fit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from optiform.views.render.blocks import Column

NARROW_BLANK = 10
"""A longer line to write on becomes a wide cell."""


def render(blocks: Iterable[Block], title: str) -> str:
    """Return blocks as one HTML page without scripts or outside files."""
    shown = list(blocks)
    before = [None, *shown[:-1]]
    body = "\n".join(
        table_of(block, told=isinstance(last, Heading) and last.text == block.caption)
        if isinstance(block, Table)
        else _element(block)
        for last, block in zip(before, shown, strict=True)
    )
    return fit(
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{style()}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n"
        "</body>\n</html>\n"
    )


@cache
def style() -> str:
    """Return the look of every page, on a screen and on A4."""
    return files("optiform.views").joinpath("page.css").read_text(encoding="utf-8")


def _element(block: Block) -> str:
    if isinstance(block, Drawn):
        return block.markup
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
    return table_of(block)


def _tone(tone: str) -> str:
    return f' class="{tone}"' if tone in ("caution", "bad", "quiet") else ""


def table_of(table: Table, *, told: bool = False) -> Markup:
    """Return a table that scrolls by itself where the screen is narrower, by finger or by keyboard.

    Parameters
    ----------
    table : Table
    told : bool
        Whether the line above says what the caption says, so that only a screen reader needs it.
    """
    head = "".join(
        f'<th scope="col"{_figure(column.align)}>{escape(column.title)}</th>' if column.title else "<td></td>"
        for column in table.columns
    )
    rows = "\n".join(_row(table, row) for row in table.rows)
    foot = f"\n<tfoot>\n{_row(table, table.total)}\n</tfoot>" if table.total else ""
    caption, unseen = escape(table.caption), ' class="unseen"' if told else ""
    bare = "" if any(column.title for column in table.columns) else " hidden"
    return Markup(
        f'<section class="scroll" aria-label="{caption}" tabindex="0">\n'
        f"<table{_form(table)}>\n<caption{unseen}>{caption}</caption>\n<thead{bare}>\n<tr>{head}</tr>\n</thead>\n"
        f"<tbody>\n{rows}\n</tbody>{foot}\n</table>\n</section>{_notes(table)}"
    )


def _notes(table: Table) -> str:
    return "".join(f"\n<p>{escape(column.note)}</p>" for column in table.columns if column.note)


def _form(table: Table) -> str:
    """Return the class of a table that is filled in by hand, which takes the whole width of a sheet."""
    return ' class="form"' if any(_to_fill(cell) for row in table.rows for cell in row) else ""


def _to_fill(cell: str) -> bool:
    return bool(cell) and not cell.strip("_")


def _row(table: Table, cells: tuple[str, ...]) -> str:
    return (
        f"<tr>{''.join(_cell(column, cell) for column, cell in zip(table.columns, cells, strict=True))}</tr>"
    )


def _cell(column: Column, cell: str) -> str:
    if column.head and cell:
        return f'<th scope="row">{escape(cell)}</th>'
    if _to_fill(cell):
        return f'<td class="{"wide blank" if len(cell) > NARROW_BLANK else "blank"}"></td>'
    return f"<td{_figure(column.align)}>{escape(cell)}</td>"


def _figure(align: str) -> str:
    return "" if align == "left" else ' class="figure"'
