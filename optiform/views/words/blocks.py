"""What a view shows, before it is decided how: headings, paragraphs, lists and tables."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from optiform.faults import printable
from optiform.views.words.numbers import NOTHING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

Cell = str | float | int | None
Rows = tuple[tuple[str, ...], list[tuple[Cell, ...]]]
"""Columns and rows of a table with every digit."""

Tone = Literal["plain", "quiet", "good", "bad", "caution"]
Align = Literal["left", "right", "decimal"]


class Shown:
    """What can be shown anywhere: no text in it steers a terminal, whatever stood in a file or a name."""

    def __post_init__(self) -> None:
        """Let every text stand for itself."""
        for field in fields(self):  # type: ignore[arg-type]
            object.__setattr__(self, field.name, _shown(getattr(self, field.name)))


def _shown(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    return tuple(map(_shown, value)) if isinstance(value, tuple) else value


@dataclass(frozen=True)
class Heading(Shown):
    """A heading; level 1 is the title of the whole. `aside` stands at the other end of its line."""

    text: str
    level: int = 2
    aside: str = ""


@dataclass(frozen=True)
class Paragraph(Shown):
    """One paragraph of running text; a terminal sets it close `under` the block before, in line with its rows."""

    text: str
    tone: Tone = "plain"
    under: bool = False


@dataclass(frozen=True)
class Bullets(Shown):
    """A list of short texts."""

    items: tuple[str, ...]
    numbered: bool = False
    tone: Tone = "plain"


@dataclass(frozen=True)
class Column(Shown):
    """A column of a table.

    Attributes
    ----------
    title : str
    align : str
        left, right, or decimal: figures stand with their points under each other.
    sheds : int
        0: always shown; else the order in which a narrow screen leaves columns out, 1 first.
    head : bool
        Whether its cells name their rows.
    note : str
        What a reader must know of it, said under the table wherever the column is shown.
    cut : bool
        Whether a terminal cuts what is too long for it, so that each row takes one line.
    """

    title: str
    align: Align = "left"
    sheds: int = 0
    head: bool = False
    note: str = ""
    cut: bool = False


@dataclass(frozen=True)
class Table(Shown):
    """Rows of texts under columns.

    Attributes
    ----------
    caption : str
        What the table shows; spoken by a page, not printed by a terminal, where a heading says it.
    total : tuple of str
        A last row, set apart; empty for none.
    light : bool
        Whether a terminal prints it without a rule, its caption beside the titles of the columns.
    folds : int
        0: always whole; else the order in which a short screen leaves its last rows out, 1 first.
    keeps : int
        So many rows stay however short the screen is.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] = ()
    light: bool = False
    folds: int = 0
    keeps: int = 0

    @property
    def to_fill(self) -> bool:
        """Tell whether it is filled in by hand, so that it takes the whole width of a sheet."""
        return any(to_fill(cell) for row in self.rows for cell in row)


class Field(NamedTuple):
    """A column, and what stands in it for each thing that has a row.

    Attributes
    ----------
    once : bool
        Whether what repeats the row above is left out.
    """

    title: str
    read: Callable[[Any], str]
    align: Align = "left"
    sheds: int = 0
    head: bool = False
    note: str = ""
    once: bool = False
    cut: bool = False


def tabulated(
    caption: str, fields: Sequence[Field], things: Iterable[Any], total: tuple[str, ...] = ()
) -> Table:
    """Return things as the rows of a table."""
    columns = tuple(
        Column(field.title, field.align, field.sheds, field.head, field.note, field.cut) for field in fields
    )
    full = [tuple(field.read(thing) for field in fields) for thing in things]
    rows = [
        tuple(
            "" if field.once and cell == above and cell != NOTHING else cell
            for field, cell, above in zip(fields, row, before, strict=True)
        )
        for row, before in zip(full, [("",) * len(fields), *full], strict=False)
    ]
    return Table(caption, columns, tuple(rows), total)


@dataclass(frozen=True)
class Source(Shown):
    """Text to be shown letter by letter, such as a file."""

    text: str


@dataclass(frozen=True)
class Fact(Shown):
    """A figure that a reader looks for first, and what was wanted of it."""

    name: str
    value: str
    unit: str = ""
    wanted: str = ""


@dataclass(frozen=True)
class Facts:
    """Figures to stand large on a page."""

    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class Card:
    """One picture with how to read it, and its numbers as a table.

    Attributes
    ----------
    drawing : str
        As SVG; empty where nothing draws.
    """

    title: str
    drawing: str = ""
    note: str = ""
    table: Table | None = None


@dataclass(frozen=True)
class Cards:
    """Pictures under a heading; `missing` says what lacks where nothing draws."""

    heading: str
    cards: tuple[Card, ...]
    missing: str = ""


@dataclass(frozen=True)
class Drawn:
    """A picture by itself, as SVG."""

    drawing: str


OnPages = Facts | Cards | Drawn
"""What only a page can show; text and Markdown pass it over."""

Block = Heading | Paragraph | Bullets | Table | Source | OnPages
TIED = "\N{NO-BREAK SPACE}"
UNFIT = re.compile("[^\t\n\x20-\x7e\xa0-\ud7ff\ue000-\ufdcf\ufdf0-\ufffd\U00010000-\U0001fffd]")
"""Characters that no page and no drawing may hold."""


def to_fill(cell: str) -> bool:
    """Tell whether a cell is a line to write on."""
    return bool(cell) and not cell.strip("_")


def fit(text: str) -> str:
    """Return text with a mark in place of every character that no page and no drawing can hold."""
    return UNFIT.sub("\ufffd", text)


def section(title: str, *blocks: Block, level: int = 2) -> list[Block]:
    """Return blocks under a heading; nothing where none of them says anything."""
    said = [block for block in blocks if not (isinstance(block, Bullets) and not block.items)]
    return [Heading(title, level), *said] if said else []


def bullets(title: str, items: Iterable[str], tone: Tone = "plain", level: int = 2) -> list[Block]:
    """Return a list under a heading; nothing where it is empty."""
    return section(title, Bullets(tuple(items), tone=tone), level=level)


def joined(words: tuple[str, ...] | list[str], last: str = "and") -> str:
    """Return "a, b and c"."""
    words = list(words)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
