"""What a view shows, before it is decided how: headings, paragraphs, lists and tables."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Literal

from optiform.faults import printable

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
    """A heading; level 1 is the title of the whole."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Paragraph(Shown):
    """One paragraph of running text."""

    text: str
    tone: Tone = "plain"


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
    """

    title: str
    align: Align = "left"
    sheds: int = 0
    head: bool = False
    note: str = ""


@dataclass(frozen=True)
class Table(Shown):
    """Rows of texts under columns.

    Attributes
    ----------
    caption : str
        What the table shows; spoken by a page, not printed by a terminal, where a heading says it.
    total : tuple of str
        A last row, set apart; empty for none.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] = ()


@dataclass(frozen=True)
class Source(Shown):
    """Text to be shown letter by letter, such as a file."""

    text: str


@dataclass(frozen=True)
class Drawn:
    """What only a page can show, as HTML; text and Markdown pass it over."""

    markup: str


Block = Heading | Paragraph | Bullets | Table | Source | Drawn


def joined(words: tuple[str, ...] | list[str], last: str = "and") -> str:
    """Return "a, b and c"."""
    words = list(words)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
