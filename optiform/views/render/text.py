"""Renders blocks as plain text, sized to the screen, coloured only on a terminal."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TextIO

from optiform.views.words.blocks import (
    TIED,
    Block,
    Bullets,
    Column,
    Heading,
    OnPages,
    Paragraph,
    Source,
    Table,
    Tone,
    Ways,
    reworded,
    tied,
)

PIPE_WIDTH = 80
NARROWEST, WIDEST = 40, 120
GAP = "  "
COLOURS: dict[Tone, str] = {"plain": "", "quiet": "2", "good": "32", "bad": "31", "caution": "33"}
LEAST_TEXT = 12
CUT = "…"
PLAINER = str.maketrans({"·": "|", "–": "-", "×": "x", "±": "+/-", CUT: "."})
"""What stands for marks on a terminal that has only ASCII."""


@dataclass(frozen=True)
class Screen:
    """The screen for a text: its width in columns, whether it has colours, and marks beyond ASCII."""

    width: int = PIPE_WIDTH
    colour: bool = False
    marks: bool = True

    def paint(self, text: str, code: str) -> str:
        """Return text in a colour or weight, where the screen has any."""
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour and code and text else text


def screen_of(stream: TextIO | None = None) -> Screen:
    """Return the screen behind a stream: 80 columns without colour for a pipe or a file.

    Colour also stays away where NO_COLOR is set to anything or TERM is dumb.
    """
    stream = sys.stdout if stream is None else stream
    marks = _has_marks(stream)
    if not stream.isatty():
        return Screen(marks=marks)
    width = shutil.get_terminal_size((PIPE_WIDTH, 24)).columns
    colour = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return Screen(min(max(width, NARROWEST), WIDEST), colour, marks)


def _has_marks(stream: TextIO) -> bool:
    try:
        "".join(map(chr, PLAINER)).encode(getattr(stream, "encoding", None) or "utf-8")
    except (LookupError, UnicodeEncodeError):
        return False
    return True


def render(blocks: Iterable[Block], screen: Screen | None = None, most: int | None = None) -> str:
    """Return blocks as text that ends in a newline; no line is wider than the screen, a pipe by default.

    It should have at most so many lines: tables that fold lose their last rows, in the order in which they fold.
    """
    screen, kept = Screen() if screen is None else screen, list(blocks)
    if not screen.marks:
        kept = [reworded(block, lambda told: told.translate(PLAINER)) for block in kept]
    lines = _laid_out(kept, screen)
    while most is not None and len(lines) > most and _fold(kept):
        lines = _laid_out(kept, screen)
    text = "\n".join(line.rstrip() for line in lines) + "\n"
    return text if screen.marks else text.translate(PLAINER)


def _fold(blocks: list[Block]) -> bool:
    """Take the last row from the table that folds first; tell whether there was one."""
    folding = [
        (block.folds, place)
        for place, block in enumerate(blocks)
        if isinstance(block, Table) and block.folds and len(block.rows) > block.keeps
    ]
    if not folding:
        return False
    _, place = min(folding)
    table = blocks[place]
    assert isinstance(table, Table)
    blocks[place] = replace(table, rows=table.rows[:-1])
    return True


def _laid_out(blocks: Iterable[Block], screen: Screen) -> list[str]:
    parts: list[str] = []
    before: Block | None = None
    for block in blocks:
        lines = _lines(block, screen)
        if not lines:
            continue
        close = isinstance(before, Heading) and (before.level > 1 or bool(before.aside))
        close = close or (isinstance(block, Paragraph) and block.under)
        if parts and not close:
            parts.append("")
        parts += lines
        before = block
    return parts


def _lines(block: Block, screen: Screen) -> list[str]:
    if isinstance(block, Heading):
        return _heading(block, screen)
    if isinstance(block, Paragraph):
        return _paragraph(block, screen)
    if isinstance(block, Ways):
        block = Bullets(tuple(way.text for way in block.ways), tone="good")
    if isinstance(block, Bullets):
        return _bullets(block, screen)
    if isinstance(block, Source):
        return block.text.rstrip("\n").split("\n")
    return [] if isinstance(block, OnPages) else _table(block, screen)


def _paragraph(block: Paragraph, screen: Screen) -> list[str]:
    indent = "  " if block.under else ""
    lines = wrap(block.text, screen.width - len(indent))
    return [indent + screen.paint(line, COLOURS[block.tone]) for line in lines]


def _heading(heading: Heading, screen: Screen) -> list[str]:
    if heading.aside:
        return _masthead(heading, screen)
    lines = [screen.paint(line, "1") for line in wrap(heading.text, screen.width)]
    if heading.level > 2:
        return lines
    rule = ("=" if heading.level == 1 else "-") * min(
        screen.width, max(map(width, wrap(heading.text, screen.width)))
    )
    return [*lines, rule]


def _masthead(heading: Heading, screen: Screen) -> list[str]:
    """Return a title and the text beside it, on one line or, where there is no room, on two."""
    lines = wrap(heading.text, screen.width)
    gap = screen.width - width(lines[-1]) - width(heading.aside)
    painted = [screen.paint(line, "1") for line in lines]
    if gap < len(GAP):
        return [*painted, *wrap(heading.aside, screen.width)]
    return [*painted[:-1], f"{painted[-1]}{' ' * gap}{heading.aside}"]


def _bullets(block: Bullets, screen: Screen) -> list[str]:
    lines = []
    for position, item in enumerate(block.items, 1):
        mark = f"{position}. " if block.numbered else "- "
        for text in wrap(item, screen.width - 2 - len(mark)):
            lines.append("  " + mark + screen.paint(text, COLOURS[block.tone]))
            mark = " " * len(mark)
    return lines


def width(text: str) -> int:
    """Return how many columns a text takes on a screen."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(mark) else 2 if unicodedata.east_asian_width(mark) in "WF" else 1
        for mark in text
    )


def wrap(text: str, columns: int) -> list[str]:
    """Break a text into lines of at most so many columns, at blanks but never between a number and its unit.

    A word that is longer than a line breaks after a hyphen, if it has one.
    """
    lines = []
    for paragraph in tied(text).split("\n"):
        room = max(columns, 1)
        hyphens = _longest_word(paragraph) > room
        found = textwrap.wrap(paragraph, room, break_on_hyphens=hyphens) or [""]
        while room > 2 and max(map(width, found)) > columns:
            room -= 1
            found = textwrap.wrap(paragraph, room, break_on_hyphens=hyphens)
        lines += [line.replace(TIED, " ") for line in found]
    return lines


def pad(text: str, columns: int, *, right: bool = False) -> str:
    """Fill a text with blanks to a number of columns."""
    blanks = " " * (columns - width(text))
    return blanks + text if right else text + blanks


def _table(table: Table, screen: Screen) -> list[str]:
    columns, rows, total = list(table.columns), list(table.rows), table.total
    if not rows and not total:
        return []
    while True:
        body = aligned(columns, [*rows, total] if total else rows)
        widths = _widths(columns, body, screen.width)
        shed = [column.sheds for column in columns if column.sheds]
        if widths is not None or not shed:
            break
        place = next(index for index, column in enumerate(columns) if column.sheds == min(shed))
        columns.pop(place)
        rows = [(*row[:place], *row[place + 1 :]) for row in rows]
        total = (*total[:place], *total[place + 1 :]) if total else ()
    if widths is None:
        return _stacked(columns, [*rows, total] if total else rows, screen)
    lines = []
    if table.light:
        named = next((place for place, column in enumerate(columns) if column.head), 0)
        widths[named] += _short_of_caption(table.caption, columns, widths, screen)
        lines += _light_titles(table.caption, columns, widths, screen)
    elif any(column.title for column in columns):
        titles = [column.title for column in columns]
        lines += [screen.paint(line, "2") for line in _row(columns, titles, widths)]
        lines.append(screen.paint(_rule(widths), "2"))
    for place, row in enumerate(body[: len(rows)]):
        lines += _row(columns, row, widths)
        if table.under and table.under[place]:
            lines += [f"    {screen.paint(line, '2')}" for line in wrap(table.under[place], screen.width - 4)]
    if total:
        lines += [screen.paint(_rule(widths), "2"), *_row(columns, body[-1], widths)]
    for note in (column.note for column in columns if column.note):
        lines += ["", *(screen.paint(line, "2") for line in wrap(note, screen.width))]
    return lines


def _short_of_caption(caption: str, columns: Sequence[Column], widths: Sequence[int], screen: Screen) -> int:
    """Return the columns missing to fit a caption beside the titles; 0 where the screen has no room."""
    untitled = next((place for place, column in enumerate(columns) if column.title), 0)
    if not untitled:
        return 0
    short = width(caption) - sum(widths[:untitled]) - len(GAP) * untitled
    taken = sum(widths) + len(GAP) * len(widths)
    return short if 0 < short <= screen.width - taken else 0


def _light_titles(
    caption: str, columns: Sequence[Column], widths: Sequence[int], screen: Screen
) -> list[str]:
    """Return caption and titles on one line; on two where there is no room."""
    if not any(column.title for column in columns):
        return [screen.paint(caption, "1")] if caption else []
    titles = _row(columns, [column.title for column in columns], widths)[0]
    free = len(titles) - len(titles.lstrip())
    if width(caption) + len(GAP) <= free:
        return [screen.paint(caption, "1") + titles[width(caption) :]]
    return [screen.paint(caption, "1"), titles]


def _rule(widths: Sequence[int]) -> str:
    return "  " + GAP.join("-" * size for size in widths)


def aligned(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], blank: str = " ", point: str = " "
) -> list[list[str]]:
    """Return rows padded so that the points of decimal columns line up.

    `blank` is as wide as a figure, `point` as wide as a point.
    """
    body = [list(row) for row in rows]
    for place, column in enumerate(columns):
        if column.align != "decimal":
            continue
        after = [len(row[place]) - row[place].find(".") if "." in row[place] else 0 for row in body]
        furthest = max(after, default=0)
        for row, size in zip(body, after, strict=True):
            if row[place]:
                row[place] += (point if size == 0 < furthest else "") + blank * (furthest - max(size, 1))
    return body


def _widths(columns: Sequence[Column], body: Sequence[Sequence[str]], room: int) -> list[int] | None:
    """Return widths that fit, the widest texts wrapped; None where they cannot be made to fit."""
    widths = [
        max(width(column.title), *(width(row[place]) for row in body)) for place, column in enumerate(columns)
    ]
    free = room - 2 - len(GAP) * (len(columns) - 1)
    least = [
        min(size, max(LEAST_TEXT, _longest_word(column.title))) if column.align == "left" else size
        for column, size in zip(columns, widths, strict=True)
    ]
    if sum(least) > free:
        return None
    heads = [2 if column.head else 0 for column in columns]
    if any(column.sheds for column in columns) and sum(widths) > free:
        tightest = [
            min(size, max(24, low)) if column.align == "left" else size
            for column, size, low in zip(columns, widths, least, strict=True)
        ]
        if sum(tightest) > free:
            return None
    while sum(widths) > free:
        place = max(
            (index for index, size in enumerate(widths) if size > least[index]),
            key=lambda index: widths[index] - heads[index],
        )
        widths[place] -= 1
    return widths


def _longest_word(text: str) -> int:
    return max((width(word) for word in text.split()), default=0)


def _row(columns: Sequence[Column], cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    wrapped = [
        [cut_to(cell, size)] if column.cut else wrap(cell, size) if column.align == "left" else [cell]
        for column, cell, size in zip(columns, cells, widths, strict=True)
    ]
    lines = []
    for index in range(max(map(len, wrapped))):
        texts = [
            pad(cell[index] if index < len(cell) else "", size, right=column.align != "left")
            for column, cell, size in zip(columns, wrapped, widths, strict=True)
        ]
        lines.append("  " + GAP.join(texts))
    return lines


def cut_to(text: str, columns: int) -> str:
    """Return a text that takes at most so many columns, a mark where it was cut."""
    if width(text) <= columns:
        return text
    kept = text
    while width(kept) > columns - 1:
        kept = kept[:-1]
    return kept.rstrip(" ,(") + CUT


def _stacked(columns: Sequence[Column], rows: Sequence[Sequence[str]], screen: Screen) -> list[str]:
    """Return a table too wide for the screen as one paragraph per row."""
    lines = []
    for row in rows:
        words = [
            f"{column.title}: {cell}" if column.title else cell
            for column, cell in zip(columns, row, strict=True)
        ]
        lines += [f"  {line}" for line in wrap("; ".join(word for word in words if word), screen.width - 2)]
    return lines
