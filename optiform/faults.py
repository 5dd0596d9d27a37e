"""What is wrong with the user's input, all of it at once."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path


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
        What is wrong, in one clause, with the value.
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

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.file, self.place) if part)
        text = f"{where}: {self.message}" if where else self.message
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.nearest:
            text += f"; did you mean '{self.nearest}'?"
        return text


class BadInput(Exception):
    """The user's files or words cannot be used; every fault is listed."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


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
        """Note one more fault; `file` only where it is not the gatherer's own."""
        self.found.append(Fault(str(file) or self.file, place, message, allowed, nearest))

    def raise_if_any(self) -> None:
        """Raise `BadInput` with everything found so far, if anything was."""
        if self.found:
            raise BadInput(self.found)


def nearest(name: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """Return the known name most like `name`, or an empty string when none is near."""
    by_folded = {word.casefold(): word for word in known}
    matches = difflib.get_close_matches(name.casefold(), by_folded, n=1, cutoff=cutoff)
    return by_folded[matches[0]] if matches else ""
