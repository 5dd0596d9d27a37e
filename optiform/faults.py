"""Gathers what is wrong with the user's input, so that all of it is told at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

ECHOED = 80
"""Characters of a wrong value that a message repeats."""

TOLD = 50
"""Faults that are listed; of further ones only the number is told."""

GATHERED = 10_000
"""Faults after which reading stops: a file in which everything is wrong is not read to its end."""

LONGEST = 600
"""Characters of a whole message."""

UNPRINTABLE = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
"""Characters that steer a terminal, turn the direction of writing, or are no text at all; a line end is none."""

FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""With these, wide ones too, a cell begins that a spreadsheet would calculate."""

QUOTED = re.compile(rf"(['\"])([^'\"]{{{ECHOED - 3}}})[^'\"]{{4,}}\1")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, and where.

    Attributes
    ----------
    file : str
        The file as the user named it; empty when there is none.
    place : str
        Row, column or key inside the file, e.g. ``row 12, column price``.
    message : str
        What is wrong, in one clause, with the value; a long value is cut short.
    allowed : str
        What would be right; empty when the message says it.
    nearest : str
        The nearest known name; empty when there is none.
    """

    file: str
    place: str
    message: str
    allowed: str = ""
    nearest: str = ""

    def __post_init__(self) -> None:
        """Cut what is quoted short, so that a wrong value never fills the screen."""
        for name in ("place", "message", "nearest"):
            object.__setattr__(self, name, cut(getattr(self, name)))

    def __str__(self) -> str:
        file = self.file if len(self.file) <= LONGEST else f"{self.file[:ECHOED]}...{self.file[-ECHOED:]}"
        where = ", ".join(part for part in (file, self.place) if part)
        text = f"{where}: {self.message}" if where else self.message
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.nearest:
            text += f"; did you mean '{self.nearest}'?"
        return printable(text)


class BadInput(Exception):
    """The user's files or words cannot be used; every fault is listed."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(listed(self.faults)))


class InternalError(Exception):
    """The program, not the user, is at fault: an answer that could not be verified."""


@dataclass
class Faults:
    """Gathers faults while a file is read, so that all are raised together."""

    file: str = ""
    found: list[Fault] = field(default_factory=list)

    def add(
        self, place: str, message: str, *, allowed: str = "", nearest: str = "", file: str | Path = ""
    ) -> None:
        """Note one more fault; `file` only where it is not the gatherer's own.

        Raises
        ------
        BadInput
            After `GATHERED` faults: then the file is another one than was meant.
        """
        self.found.append(Fault(str(file) or self.file, place, message, allowed, nearest))
        if len(self.found) >= GATHERED:
            raise BadInput(self.found)

    @contextmanager
    def gathering(self) -> Iterator[None]:
        """Note the faults that reading something else raises, and go on behind it."""
        try:
            yield
        except BadInput as bad:
            self.found.extend(bad.faults)

    def raise_if_any(self) -> None:
        """Raise `BadInput` with everything found so far, if anything was."""
        if self.found:
            raise BadInput(self.found)


def listed(faults: Iterable[Fault]) -> tuple[str, ...]:
    """Return what is said of faults: each once, the first `TOLD` of them, and how many more there are."""
    lines = tuple(dict.fromkeys(map(str, faults)))
    more = len(lines) - TOLD
    if more <= 0:
        return lines
    least = "at least " if len(lines) >= GATHERED else ""
    return (*lines[:TOLD], f"and {least}{more:,} more")


def printable(text: str) -> str:
    """Return a text that can be shown anywhere: what would steer a terminal stands as its number, a tab as a blank."""
    return UNPRINTABLE.sub(_number, text)


def _number(found: re.Match[str]) -> str:
    code = ord(found.group())
    if code == 0x09:
        return " "
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def cut(text: str) -> str:
    """Return a text with every long quoted value cut short, and the whole no longer than `LONGEST`."""
    text = QUOTED.sub(r"\1\2...\1", text)
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


def shown(value: object) -> str:
    """Return a value as the user would have written it, cut short; text in quotes."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = f"'{value}'" if isinstance(value, str) else str(value)
    except (ValueError, RecursionError):
        return "a value too large to be shown"
    end = "'" if isinstance(value, str) else ""
    return text if len(text) <= ECHOED else text[: ECHOED - 3 - len(end)] + "..." + end


def nearest(name: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """Return the known name most like `name`, or an empty string when none is near.

    A name that is only begun, or only a part of one (`decyl`), means the shortest name that has it.
    """
    name = name[:200].casefold()
    by_folded = {word.casefold(): word for word in known}
    matches = difflib.get_close_matches(name, by_folded, n=1, cutoff=cutoff)
    if not matches and len(name) >= 4:
        held = [word for word in by_folded if name in word]
        matches = sorted(held, key=lambda word: (not word.startswith(name), len(word), word))[:1]
    return by_folded[matches[0]] if matches else ""
