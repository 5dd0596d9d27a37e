"""Tells what the composition of each material can be within its supplier's specification."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from optiform.library.models import Library, Part
from optiform.tolerances import LAST_DIGITS, ROUNDING
from optiform.vectors import Floats, Indices


@dataclass(frozen=True, eq=False)
class Windows:
    """What the composition of each material can be.

    Attributes
    ----------
    materials : ndarray of int, shape (w,)
        The materials whose composition varies.
    low, typical, high : ndarray, shape (w, s)  [g per g of material]
        Windows of the parts, in the order of composition.csv, padded with zeros to `s` parts.
    balance : ndarray of int, shape (w,)
        Which part makes up for the others: the one without a window, else the one with the widest.
    open_ended : tuple of str
        Materials with a part of which the specification names one end only; the other end is 0 or 100 %.
    """

    library: Library = field(repr=False)
    materials: Indices
    low: Floats = field(repr=False)
    typical: Floats = field(repr=False)
    high: Floats = field(repr=False)
    balance: Indices = field(repr=False)
    open_ended: tuple[str, ...] = ()

    @property
    def parts(self) -> int:
        """Return how many parts the richest of the materials has."""
        return int(self.low.shape[1])

    def extreme(self, counts: Floats, *, least: bool) -> Floats:
        """Return the compositions at which materials count least, or most, by `counts` per g of part, shape (w, s)."""
        order = np.argsort(counts if least else -counts, axis=1, kind="stable")
        room = np.take_along_axis(self.high - self.low, order, axis=1)
        left = 1.0 - self.low.sum(axis=1, keepdims=True)
        before = np.cumsum(room, axis=1) - room
        taken = np.clip(left - before, 0.0, room)
        filled = np.zeros_like(self.low)
        np.put_along_axis(filled, order, taken, axis=1)
        return self.low + filled

    def spread(self, counts: Floats) -> bool:
        """Tell whether what any material counts depends on its lot."""
        least, most = (self.extreme(counts, least=end) for end in (True, False))
        return bool(np.any(((most - least) * counts).sum(axis=1) > LAST_DIGITS))

    @cached_property
    def pure(self) -> tuple[Library, ...]:
        """Return one library for each part: each varying material consists of that part alone.

        Whatever a library sums from composition, it sums for one part at a time from these. What is
        named by selection (a tag, a substance) is the same in all of them.
        """
        places: dict[str, int] = {}
        varying = {self.library.materials[index].id for index in self.materials}
        where = []
        for part in self.library.parts:
            place = places.get(part.material, 0)
            places[part.material] = place + 1
            where.append(place if part.material in varying else -1)
        return tuple(self._pure(number, where) for number in range(self.parts))

    def _pure(self, number: int, where: Sequence[int]) -> Library:
        parts = tuple(
            part
            if place < 0
            else part.model_copy(
                update={"percent": 100.0 if place == number else 0.0, "low": None, "high": None}
            )
            for part, place in zip(self.library.parts, where, strict=True)
        )
        library = self.library.model_copy(update={"parts": parts})
        library.__dict__["selections"] = self.library.selections
        return library


def windows_of(library: Library, among: Collection[str] | None = None) -> Windows | None:
    """Return the windows of a library's materials, or None where no composition varies.

    A part with a window stays inside it. The balance to 100 % is taken by the material's water where
    that has no window of its own, else by its largest part without one; all other parts without a
    window stay as they are. Where every part has a window, they compensate each other.
    """
    rows: list[tuple[int, list[tuple[float, float, float]]]] = []
    open_ended = []
    for index, material in enumerate(library.materials):
        parts = library.composition[material.id]
        if (among is not None and material.id not in among) or all(
            part.low is None and part.high is None for part in parts
        ):
            continue
        window = _windows(parts)
        if _varies(window):
            rows.append((index, window))
            if any((part.low is None) != (part.high is None) for part in parts):
                open_ended.append(material.id)
    if not rows:
        return None
    size = max(len(window) for _, window in rows)
    filled = np.zeros((3, len(rows), size))
    for place, (_, window) in enumerate(rows):
        filled[:, place, : len(window)] = np.array(window).T / 100.0
    filled[1] /= filled[1].sum(axis=1, keepdims=True)
    materials = np.array([index for index, _ in rows], dtype=np.intp)
    balance = np.argmax(filled[2] - filled[0], axis=1)
    return Windows(library, materials, filled[0], filled[1], filled[2], balance, tuple(open_ended))


def _windows(parts: Sequence[Part]) -> list[tuple[float, float, float]]:
    """Return (low, typical, high) of each part  [% w/w]."""
    free = [place for place, part in enumerate(parts) if part.low is None and part.high is None]
    water = [place for place in free if parts[place].inci == "Aqua"]
    balance = water[0] if water else max(free, key=lambda place: parts[place].percent, default=None)
    found = []
    for place, part in enumerate(parts):
        if place == balance:
            found.append((0.0, part.percent, 100.0))
        elif place in free:
            found.append((part.percent, part.percent, part.percent))
        else:
            low = 0.0 if part.low is None else part.low
            found.append((low, part.percent, 100.0 if part.high is None else part.high))
    return found


def _varies(window: Sequence[tuple[float, float, float]]) -> bool:
    """Tell whether more than one composition adds up to 100 %."""
    low, high = sum(part[0] for part in window), sum(part[2] for part in window)
    loose = sum(part[2] > part[0] for part in window)
    return loose > 1 and low < 100.0 - ROUNDING and high > 100.0 + ROUNDING


def narrowed(library: Library, share: float) -> Library:
    """Return a library whose windows are drawn in to a share of their width: 1 leaves them, 0 closes them."""

    def drawn(part: Part) -> Part:
        if part.low is None and part.high is None:
            return part
        low = 0.0 if part.low is None else part.low
        high = 100.0 if part.high is None else part.high
        ends = {
            "low": part.percent - share * (part.percent - low),
            "high": part.percent + share * (high - part.percent),
        }
        return part.model_copy(update=ends)

    return library.model_copy(update={"parts": tuple(drawn(part) for part in library.parts)})
