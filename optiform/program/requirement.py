"""One addressable demand on a formula, in the user's words and units."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from optiform.bounds import bound_text, number

Origin = Literal["brief", "library", "law", "balance"]
Bounded = Literal["at_least", "at_most", "equal"]
SIDE_WORDS: dict[Bounded, str] = {"at_least": "at least", "at_most": "at most", "equal": "exactly"}
PH_WINDOWS = ("system-pH", "material-pH")
"""Sections of the windows of pH in which preservative systems and materials work."""


@dataclass(frozen=True, order=True)
class Key:
    """The stable address of a requirement.

    Attributes
    ----------
    section : str
        Where it is stated: a section of the brief such as ``targets`` or ``include``, ``library`` or ``brief``
        for a rule, ``law``, or what the program holds by itself, such as ``use`` or ``balance``.
    place : tuple of str and int
        Which one there: the name of what is bounded, or its number in a list, counted from 1. A rule has its
        kind and its number; some places have a second name.
    side : str
        From which side it bounds, or another word where its place asks for several things; "" where for one.
    """

    section: str
    place: tuple[str | int, ...] = ()
    side: str = ""

    def __str__(self) -> str:
        """Write the address in one word: ``targets/active matter/at_least``."""
        return "/".join(str(part) for part in (self.section, *self.place, self.side) if part != "")

    @property
    def name(self) -> str:
        """Return the first name of the place: a measure, a material, a kind of rule."""
        return str(self.place[0]) if self.place else ""

    @property
    def entry(self) -> int:
        """Return which entry of a list it is, counted from 1; 0 where it stands in none."""
        return next((part for part in self.place if isinstance(part, int)), 0)

    @property
    def window(self) -> Key:
        """Return what the two ends of one window have in common."""
        return Key(self.section, self.place)

    def end(self, side: str) -> Key:
        """Return the key of one end of this window."""
        return Key(self.section, self.place, side)


@dataclass(frozen=True)
class Requirement:
    """One demand that rows of a program stand for.

    Attributes
    ----------
    key : Key
        Its address, e.g. section ``targets``, place ``active matter``, side ``at_least``.
    title : str
        The demand as a reader meets it: "active matter at least 11 % w/w", or a sentence.
    label, tail : str
        For a demand with a number: how its title begins, before "at least", and how it ends after the number
        where that is not its unit.
    origin : str
        Who asks: brief, library, law or balance.
    measure, side, bound, unit
        For a demand with a number: what is bounded, from which side, where, in which unit.
    decimals : int, optional
        How many a computed bound is written with; None writes every figure.
    movable : bool
        Whether the user may change it; the balance and the law never move.
    choice : bool
        Whether it is a choice (a count, an exclusion, an implication) and not a number on a scale.
    subject : tuple of str
        Ids of the materials that the demand is about, where it is about some.
    why, source : str
        Why the demand exists, and who says so.
    """

    key: Key
    title: str
    origin: Origin
    measure: str | None = None
    side: Bounded | None = None
    bound: float | None = None
    unit: str = ""
    label: str = field(default="", metadata={"written": False})
    tail: str = field(default="", metadata={"written": False})
    decimals: int | None = field(default=None, metadata={"written": False})
    movable: bool = True
    choice: bool = False
    subject: tuple[str, ...] = ()
    why: str = ""
    source: str = ""


def counted(count: float, things: str) -> str:
    """Return "1 thickener", "2 thickeners"; `things` starts with a noun of either number, or with "of"."""
    noun, space, rest = things.partition(" ")
    if noun != "of":
        noun = noun.removesuffix("s") + ("" if count == 1 else "s")
    return f"{number(count)} {noun}{space}{rest}"


def count_title(side: Bounded, count: float, things: str) -> str:
    """Return "at least 1 thickener"."""
    return f"{SIDE_WORDS[side]} {counted(count, things)}"


def limit_title(measure: str, side: Bounded, bound: float, unit: str, decimals: int | None = None) -> str:
    """Return "active matter at least 11 % w/w"; a computed bound has so many decimals."""
    written = bound_text(bound, side, decimals)
    return " ".join(part for part in (measure, SIDE_WORDS[side], written, unit) if part)
