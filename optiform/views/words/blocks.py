"""Defines the blocks that results are told in: headings, paragraphs, lists, tables, pictures."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, Literal, NamedTuple

from optiform.faults import printable
from optiform.views.words.numbers import NOTHING

Cell = str | float | int | None
Rows = tuple[tuple[str, ...], list[tuple[Cell, ...]]]
"""Columns and rows of a table with every digit."""

Tone = Literal["plain", "quiet", "good", "bad", "caution"]
Align = Literal["left", "right", "decimal"]


class Shown:
    """A block; no text in it steers a terminal, whatever stood in a file or a name."""

    def __post_init__(self) -> None:
        """Replace control characters in every text."""
        for field in fields(self):  # type: ignore[arg-type]
            object.__setattr__(self, field.name, _shown(getattr(self, field.name)))


def _shown(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    return tuple(map(_shown, value)) if isinstance(value, tuple) else value


@dataclass(frozen=True)
class Heading(Shown):
    """A heading; level 1 is the title of the whole; `aside` is set at the other end of its line."""

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
class Bar:
    """A range on a scale from 0 to 1 and a mark in it, drawn beside the last cell of a row."""

    low: float
    mark: float
    high: float


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
    under : tuple of str
        For each row, what stands in small type under its name; empty for none at all.
    bars : tuple of Bar
        For each row, what a page draws in its last cell; None for a row that has no such range.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] = ()
    light: bool = False
    folds: int = 0
    keeps: int = 0
    under: tuple[str, ...] = ()
    bars: tuple[Bar | None, ...] = ()

    @property
    def to_fill(self) -> bool:
        """Tell whether the table is filled in by hand, so that it takes the whole width of a sheet."""
        return any(to_fill(cell) for row in self.rows for cell in row)


class Field(NamedTuple):
    """A column, and the function that returns its cell for each row.

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
    caption: str,
    fields: Sequence[Field],
    things: Iterable[Any],
    total: tuple[str, ...] = (),
    *,
    under: tuple[str, ...] = (),
    bars: tuple[Bar | None, ...] = (),
) -> Table:
    """Return a table with a row for each thing, and texts and bars below and beside the rows."""
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
    return Table(caption, columns, tuple(rows), total, under=under, bars=bars)


def light(table: Table, folds: int = 0, keeps: int = 0) -> Table:
    """Return a table without rules, which a short screen may fold."""
    return replace(table, light=True, folds=folds, keeps=keeps)


def cells_of(blocks: Iterable[Block]) -> Rows:
    """Return the cells of all tables among blocks as the rows of one table.

    Its columns are the caption of the table, the first cell of the row, the title of the column, and what stands there.
    """
    cells: list[tuple[Cell, ...]] = [
        (block.caption, row[0], column.title, cell)
        for block in blocks
        if isinstance(block, Table)
        for row in block.rows
        for column, cell in zip(block.columns[1:], row[1:], strict=True)
    ]
    return ("table", "row", "column", "value"), cells


@dataclass(frozen=True)
class Source(Shown):
    """Text shown letter by letter, such as a file."""

    text: str


@dataclass(frozen=True)
class Fact(Shown):
    """A figure that a reader looks for first, and the bounds asked for."""

    name: str
    value: str
    wanted: str = ""


@dataclass(frozen=True)
class Facts:
    """Figures to stand large at the head of a page."""

    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class Card:
    """One picture with how to read it, and its numbers as a table.

    Attributes
    ----------
    drawing : str
        As SVG; empty for a card of words.
    level : int
        Of its title as a heading.
    """

    title: str
    drawing: str = ""
    note: str = ""
    table: Table | None = None
    level: int = 4


@dataclass(frozen=True)
class Way(Shown):
    """One way out: what changes, and what the best formula then costs and looks like."""

    change: str
    cost: str = ""
    looks: str = ""

    @property
    def text(self) -> str:
        """Return the way as one clause."""
        if not (self.cost or self.looks):
            return self.change
        costs = f" costs {self.cost}" if self.cost else ""
        looks = f": {self.looks}" if self.looks else ""
        return f"{self.change}; the best formula then{costs}{looks}"


@dataclass(frozen=True)
class Ways:
    """Ways out, any one of which will do: a list in a text, a small card each on a page."""

    ways: tuple[Way, ...]


@dataclass(frozen=True)
class Cards:
    """Cards in two columns, or in one where there is no room for two."""

    cards: tuple[Card, ...]


@dataclass(frozen=True)
class Drawn:
    """A picture as wide as the page, as SVG; `narrow` is the one for a phone."""

    drawing: str
    narrow: str


@dataclass(frozen=True)
class Contents:
    """The place of the list of headings on a page."""


OnPages = Facts | Cards | Drawn | Contents
"""What only a page can show; text and Markdown pass it over."""

Block = Heading | Paragraph | Bullets | Table | Source | Ways | OnPages
WORDLESS = ("tone", "align")
TIED = "\N{NO-BREAK SPACE}"
UNIT = re.compile(r" (?=%)|(?<=\d) (?=(?:g|kg|mL|EUR|mPa\.s|points?|C)\b)")
"""The blank between a number and its unit, and before any percent sign."""
UNFIT = re.compile("[^\t\n\x20-\x7e\xa0-\ud7ff\ue000-\ufdcf\ufdf0-\ufffd\U00010000-\U0001fffd]")
"""Characters that no page and no drawing may hold."""


def to_fill(cell: str) -> bool:
    """Tell whether a cell is a line to write on."""
    return bool(cell) and not cell.strip("_")


def tied(text: str) -> str:
    """Return text with each number tied to its unit, so that no line ends between them."""
    return UNIT.sub(TIED, text)


def fit(text: str) -> str:
    """Return text with a mark in place of characters that no page or drawing can hold."""
    return UNFIT.sub("\ufffd", text)


def reworded(block: Block, say: Callable[[str], str]) -> Block:
    """Return a block with a function applied to every text; drawings and sources stay."""
    return block if isinstance(block, Source) else _reworded(block, say)


def _reworded(value: Any, say: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return say(value)
    if isinstance(value, tuple):
        return tuple(_reworded(item, say) for item in value)
    if not is_dataclass(value) or isinstance(value, (type, Bar, Card, Drawn)):
        return value
    held = {field.name: getattr(value, field.name) for field in fields(value)}
    return replace(
        value, **{name: _reworded(item, say) for name, item in held.items() if name not in WORDLESS}
    )


def section(title: str, *blocks: Block, level: int = 2) -> list[Block]:
    """Return blocks under a heading; empty without blocks."""
    said = [block for block in blocks if not (isinstance(block, Bullets) and not block.items)]
    return [Heading(title, level), *said] if said else []


def bullets(title: str, items: Iterable[str], tone: Tone = "plain", level: int = 2) -> list[Block]:
    """Return a list under a heading; empty without items."""
    return section(title, Bullets(tuple(items), tone=tone), level=level)


def ask_next(*asked: str) -> list[Block]:
    """Return the commands that a reader may type next."""
    return [Paragraph(f"Next: {' · '.join(one.replace(' ', TIED) for one in asked)}", "quiet")]


def joined(words: tuple[str, ...] | list[str], last: str = "and") -> str:
    """Return words in a list: "a, b and c"."""
    words = list(words)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
