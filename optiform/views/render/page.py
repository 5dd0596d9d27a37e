"""Renders blocks as one self-contained page that a screen reader can walk."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, NamedTuple

from optiform.views.render.text import aligned
from optiform.views.words.blocks import Contents, Heading, fit, tied, to_fill

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from jinja2 import Environment

    from optiform.views.words.blocks import Block, Table

FIGURE, POINT = "\N{FIGURE SPACE}", "\N{PUNCTUATION SPACE}"
PHONE, NAME, GAP = 41, 12, 1.3
"""Characters that a phone shows beside each other, that the name of a row takes at least, and between two columns."""
RANGE, BROADEST = 4, 1.8
"""Characters that a drawn range takes beside its words; the breadth that a laptop has room for."""
ENOUGH = 4
"""A page with fewer headings than this lists none of them."""


class Entry(NamedTuple):
    """A heading with its anchor, and the headings under it."""

    anchor: str
    text: str
    under: list[Entry]


def render(blocks: Iterable[Block], title: str) -> str:
    """Return blocks as one HTML page without scripts or outside files."""
    return fit(_environment().get_template("page.html.j2").render(title=title, **_laid_out(blocks)))


def fragment(blocks: Iterable[Block]) -> str:
    """Return blocks as the body of a page."""
    return fit(_environment().get_template("body.html.j2").render(**_laid_out(blocks)))


def style() -> str:
    """Return the style sheet of every page."""
    return resources.files("optiform.views.render").joinpath("templates", "page.css").read_text("utf-8")


def _laid_out(blocks: Iterable[Block]) -> dict[str, object]:
    """Return blocks with the addresses of their headings and, where there are enough, their contents.

    What follows contents that were placed is in parts, one for each heading of the second level. The contents of
    several papers in one are their titles.
    """
    shown = list(blocks)
    every = [block for block in shown if isinstance(block, Heading)]
    papers = [heading for heading in every if heading.level == 1][1:]
    headings = [heading for heading in every if heading.level > 1 or heading in papers]
    anchors = dict(zip(map(id, headings), _anchors(headings), strict=True))
    listed = papers or headings
    contents = _contents(listed, anchors) if len(headings) >= ENOUGH else []
    if papers:
        shown = [block for block in shown if not isinstance(block, Contents)]
    placed = next((k for k, block in enumerate(shown) if isinstance(block, Contents)), len(shown))
    if placed == len(shown) and listed:
        shown.insert(next(k for k, block in enumerate(shown) if block is listed[0]), Contents())
        placed = len(shown)
    begins = (k for k, block in enumerate(shown) if isinstance(block, Heading) and block.level == 2)
    starts = [k for k in begins if contents and k > placed]
    ends = [*starts[1:], len(shown)]
    parts = [shown[start:end] for start, end in zip(starts, ends, strict=False)]
    head = shown[: starts[0]] if starts else shown
    return {"head": head, "parts": parts, "anchors": anchors, "contents": contents}


def _anchors(headings: Sequence[Heading]) -> list[str]:
    """Return an address for each heading: its words, numbered where several share them."""
    seen: Counter[str] = Counter()
    found = []
    for heading in headings:
        words = "-".join(re.findall(r"[a-z0-9]+", heading.text.lower())[:6]) or "part"
        seen[words] += 1
        found.append(f"to-{words}" if seen[words] == 1 else f"to-{words}--{seen[words]}")
    return found


def _contents(headings: Sequence[Heading], anchors: dict[int, str]) -> list[Entry]:
    """Return the headings of a page as a list of two levels."""
    found: list[Entry] = []
    for heading in headings:
        entry = Entry(anchors[id(heading)], heading.text, [])
        (found[-1].under if heading.level > 2 and found else found).append(entry)
    return found


def _rows(table: Table) -> list[list[str]]:
    """Return all rows, the points of their decimal columns under each other."""
    rows = [*table.rows, table.total] if table.total else table.rows
    return aligned(table.columns, rows, FIGURE, POINT)


def _breadth(table: Table) -> float:
    """Return the least width of a table as a multiple of a phone: figures unbroken, texts broken at words."""
    widths = []
    for place, column in enumerate(table.columns):
        cells = [row[place] for row in (*table.rows, table.total) if row]
        words = [word for text in (column.title, *cells) for word in text.split()]
        parts = words if column.align == "left" else [*column.title.split(), *cells]
        widths.append(max([NAME if column.head else 0, *map(len, parts)]))
    needed = sum(widths) + GAP * (len(widths) - 1) + (RANGE if any(table.bars) else 0)
    return min(needed / PHONE, BROADEST)


@cache
def _environment() -> Environment:
    """Return the templates; every text in them is escaped unless it is a drawing of ours, a unit tied to its number."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader("optiform.views.render"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=lambda value: tied(value) if type(value) is str else value,
    )
    found.filters["kind"] = lambda block: type(block).__name__
    found.filters["aligned"] = _rows
    found.filters["identity"] = id
    found.filters["breadth"] = _breadth
    found.tests["to_fill"] = to_fill
    return found
