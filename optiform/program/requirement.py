"""One addressable demand on a formula, in the user's words and units."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Origin = Literal["brief", "library", "law", "balance"]
Bounded = Literal["at_least", "at_most", "equal"]
SIDE_WORDS: dict[Bounded, str] = {"at_least": "at least", "at_most": "at most", "equal": "exactly"}


@dataclass(frozen=True)
class Requirement:
    """One demand that rows of a program stand for.

    Attributes
    ----------
    key : str
        Stable address, e.g. ``targets/active matter/at_least``.
    title : str
        The demand as a reader meets it: "active matter at least 11 % w/w", or a sentence.
    origin : str
        Who asks: brief, library, law or balance.
    measure, side, bound, unit
        For a demand with a number: what is bounded, from which side, where, in which unit.
    movable : bool
        Whether the user may change it; the balance and the law never move.
    choice : bool
        Whether it is a choice (a count, an exclusion, an implication) and not a number on a scale.
    subject : tuple of str
        Ids of the materials that the demand is about, where it is about some.
    why, source : str
        Why the demand exists, and who says so.
    """

    key: str
    title: str
    origin: Origin
    measure: str | None = None
    side: Bounded | None = None
    bound: float | None = None
    unit: str = ""
    movable: bool = True
    choice: bool = False
    subject: tuple[str, ...] = ()
    why: str = ""
    source: str = ""


def number(value: float) -> str:
    """Write a number as short as it can be read back: 11, 0.3, 4.95."""
    text = format(Decimal(f"{value:.10g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def named(reference: str) -> str:
    """Return how a reader names a measure or a reference: "oil", "Sodium Chloride", "anything tagged sulfate"."""
    kind, colon, word = reference.partition(":")
    if kind == "share" and colon:
        return share_of(word)
    if kind == "tag" and colon:
        return f"anything tagged {word}"
    if kind == "undissociated" and colon:
        return f"undissociated {word}"
    return word if kind in ("material", "function", "substance") and colon else reference


def share_of(part: str) -> str:
    """Return "anionic share", "share tagged sulfate"."""
    kind, _, word = part.partition(":")
    return f"share tagged {word}" if kind == "tag" and word else f"{named(part)} share"


def counted(count: float, things: str) -> str:
    """Return "1 thickener", "2 thickeners"; `things` starts with a noun of either number, or with "of"."""
    noun, space, rest = things.partition(" ")
    if noun != "of":
        noun = noun.removesuffix("s") + ("" if count == 1 else "s")
    return f"{number(count)} {noun}{space}{rest}"


def count_title(side: Bounded, count: float, things: str) -> str:
    """Return "at least 1 thickener"."""
    return f"{SIDE_WORDS[side]} {counted(count, things)}"


def limit_title(measure: str, side: Bounded, bound: float, unit: str) -> str:
    """Return "active matter at least 11 % w/w"."""
    return " ".join(part for part in (measure, SIDE_WORDS[side], number(bound), unit) if part)
