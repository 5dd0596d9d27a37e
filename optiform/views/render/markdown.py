"""Renders blocks as Markdown, with pipe tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optiform.views.words.blocks import Block, Bullets, Heading, OnPages, Paragraph, Source, Table, Ways

MARKS = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_[]<>|"})


def render(blocks: Iterable[Block]) -> str:
    """Return blocks as Markdown that ends in a newline."""
    return "\n\n".join(text for text in map(_text, blocks) if text) + "\n"


def _text(block: Block) -> str:
    if isinstance(block, Heading):
        aside = f"\n\n{_plain(block.aside)}" if block.aside else ""
        return f"{'#' * block.level} {_plain(block.text)}{aside}"
    if isinstance(block, Paragraph):
        return _plain(block.text)
    if isinstance(block, Ways):
        block = Bullets(tuple(way.text for way in block.ways))
    if isinstance(block, Bullets):
        marks = (f"{place}." if block.numbered else "-" for place in range(1, len(block.items) + 1))
        return "\n".join(f"{mark} {_plain(item)}" for mark, item in zip(marks, block.items, strict=True))
    if isinstance(block, Source):
        fence = "```"
        while fence in block.text:
            fence += "`"
        return f"{fence}\n{block.text.rstrip()}\n{fence}"
    if isinstance(block, OnPages):
        return ""
    return _table(block)


def _table(table: Table) -> str:
    rows = [*table.rows, tuple(f"**{_plain(cell)}**" if cell else "" for cell in table.total)]
    lines = [
        _row([column.title for column in table.columns]),
        "|" + "|".join("---" if column.align == "left" else "--:" for column in table.columns) + "|",
        *(_row(_cells(table, place)) for place in range(len(table.rows))),
    ]
    if table.light and table.caption:
        lines = [f"**{_plain(table.caption)}**", "", *lines]
    notes = [f"\n{_plain(column.note)}" for column in table.columns if column.note]
    return "\n".join([*lines, *([_row(rows[-1])] if table.total else []), *notes])


def _cells(table: Table, place: int) -> list[str]:
    """Return the cells of a row, the text under it joined to the first."""
    first, *others = map(_plain, table.rows[place])
    under = f" ({_plain(table.under[place])})" if table.under and table.under[place] else ""
    return [first + under, *others]


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def _plain(text: str) -> str:
    """Return a text on one line, the marks of Markdown escaped."""
    return " ".join(text.translate(MARKS).split("\n"))
