"""A formula as somebody typed it, or as the program wrote it and reads it again."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from optiform.library.typed.matching import Match
from optiform.mappings import FrozenDict, FrozenMap


@dataclass(frozen=True)
class TypedFormula:
    """A formula as typed, in % w/w.

    Attributes
    ----------
    name : str
        The file's name without its ending, or the title of the answer that holds it.
    file : str
        The file as the user named it; empty for a formula built in memory.
    lines : tuple of (str, float)
        Material id and % w/w, in the order of the file, each material once.
    total : float
        Sum of the lines [% w/w]; 100 only where the file says so.
    grams : float, optional
        Mass of the batch [g], where the file gives grams.
    notes : tuple of str
        What was understood rather than read: names, merged lines, the rest taken as q.s.
    matched : tuple of Match
        What the names that are no ids were taken for.
    rank : int, optional
        Which formula of several in the file it is.
    stated : mapping
        Keys of a brief that an answer states beside its formula: law, product, area, users, day, pH, waived guards.
    """

    name: str
    lines: tuple[tuple[str, float], ...]
    total: float
    file: str = ""
    grams: float | None = None
    notes: tuple[str, ...] = ()
    matched: tuple[Match, ...] = ()
    rank: int | None = None
    stated: FrozenMap[str, Any] = field(default_factory=FrozenDict)

    @property
    def amounts(self) -> dict[str, float]:
        """Return % w/w by material id."""
        return dict(self.lines)
