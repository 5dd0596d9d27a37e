"""Limits that hold for every lot: the worst composition of each material, row by row.

A supplier's specification gives the parts of a material as windows (`low`, `high` of composition.csv).
A row sum(c_i x_i) >= b, with c_i = sum over parts of (fraction of the part) * (what the part counts),
holds for every lot if and only if it holds with each material at the composition that makes its own
c_i least: amounts are never negative, so the materials do not compensate each other. The least of one
c_i over windows that add up to 100 % is a knapsack with continuous items, solved exactly by filling
the parts that count least first. For a mean, c_i belongs to the row at its bound, where it is as
straight in the composition as for a total.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from optiform.measures.measure import Measure, Row

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from optiform.library.arrays import Floats
    from optiform.library.models import Library, Part
    from optiform.measures.measure import Side
    from optiform.program.draft import Draft
    from optiform.program.program import Indices
    from optiform.program.requirement import Requirement

    Seen = Mapping[tuple[str, str, str], Sequence[Measure]]

SAME = 1e-12
OF_TODAY = ("hold/", "keep/")
"""Keys of what is held of a baseline: at the typical composition, as today's value is."""


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
        """Return the compositions at which materials count least (or most), shape (w, s).

        Parameters
        ----------
        counts : ndarray, shape (w, s)
            What 1 g of each part counts.
        """
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
        return bool(np.any(((most - least) * counts).sum(axis=1) > SAME))

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
            else part.model_copy(update={"percent": 100.0 if place == number else 0.0, "low": None, "high": None})
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

    Parameters
    ----------
    library : Library
    among : collection of str, optional
        Only these materials vary.
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
    return loose > 1 and low < 100.0 - 1e-9 and high > 100.0 + 1e-9


def narrowed(library: Library, share: float) -> Library:
    """Return a library whose windows are drawn in towards the typical composition.

    Parameters
    ----------
    library : Library
    share : float
        1 leaves the windows as they are, 0 closes them.
    """

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


@dataclass(frozen=True, eq=False)
class WorstCase(Measure):
    """A measure whose rows hold for every lot; its value is that of the typical composition.

    Attributes
    ----------
    parts : tuple of Measure
        The measure with each varying material made of one part alone.
    side : str
        The side from which it is bounded.
    """

    parts: tuple[Measure, ...] = field(kw_only=True, repr=False)
    windows: Windows = field(kw_only=True, repr=False)
    side: Side = field(kw_only=True)

    @classmethod
    def of(cls, measure: Measure, parts: Sequence[Measure], windows: Windows, side: Side) -> WorstCase:
        """Return a measure as it is bounded from one side for every lot."""
        held = {item.name: getattr(measure, item.name) for item in fields(Measure)}
        return cls(**held, parts=tuple(parts), windows=windows, side=side)

    def row(self, side: Side, bound: float) -> Row:
        """Return the row with each material at its own worst composition."""
        typical = super().row(side, bound)
        if side != self.side:
            return typical
        counts = self._counts(bound)
        worst = (self._worst(counts) * counts).sum(axis=1)
        coefficients = typical.coefficients.copy()
        coefficients[self.windows.materials] = worst
        return Row(coefficients, side, typical.bound)

    def scale(self, amounts: Floats, bound: float | None = None) -> float:
        """Return d(row right-hand side) / d(bound): 1 for a total, d . x at the worst compositions for a mean."""
        if self.denominator is None or bound is None:
            return super().scale(amounts, bound)
        at_worst = (self._worst(self._counts(bound)) * self.below).sum(axis=1)
        denominator = self.denominator.copy()
        denominator[self.windows.materials] = at_worst
        return float(denominator @ amounts)

    def varies(self, bound: float) -> Indices:
        """Return the materials whose part in the row depends on the lot."""
        counts = self._counts(bound)
        ends = [(self.windows.extreme(counts, least=least) * counts).sum(axis=1) for least in (True, False)]
        found: Indices = self.windows.materials[np.abs(ends[1] - ends[0]) > SAME]
        return found

    def furthest(self, amounts: Floats, *, least: bool) -> float | None:
        """Return the least (or largest) value that any lots give a formula, exact to 1e-9 of its own size.

        For a mean the worst row is moved until it is just met (Dinkelbach's iteration).
        """
        value = self.value(amounts)
        if value is None:
            return None
        for _ in range(50):
            counts = self._counts(value)
            chosen = self.windows.extreme(counts, least=least)
            top, bottom = self._both(amounts, chosen)
            if self.denominator is None:
                return self.offset + top
            if bottom <= 0:
                return value
            moved = self.offset + top / bottom
            if abs(moved - value) <= 1e-9 * max(1.0, abs(value)):
                return moved
            value = moved
        return value

    def over(self, amounts: Floats, lots: Floats) -> tuple[Floats, Floats]:
        """Return numerator and denominator of a formula for each lot, shape (lots,) both; 1 for a total.

        Parameters
        ----------
        amounts : ndarray, shape (n,)  [% w/w]
        lots : ndarray, shape (lots, w, s)  [g per g of material]
        """
        held = amounts[self.windows.materials]
        rest = amounts.copy()
        rest[self.windows.materials] = 0.0
        top = float(self.numerator @ rest) + np.einsum("lws,ws,w->l", lots, self.above, held)
        if self.denominator is None:
            return top, np.ones(len(lots))
        return top, float(self.denominator @ rest) + np.einsum("lws,ws,w->l", lots, self.below, held)

    @cached_property
    def above(self) -> Floats:
        """Return what each part counts in the numerator, shape (w, s)."""
        return np.array([part.numerator[self.windows.materials] for part in self.parts]).T

    @cached_property
    def below(self) -> Floats:
        """Return what each part counts in the denominator, shape (w, s); zeros for a total."""
        if self.denominator is None:
            return np.zeros_like(self.above)
        none = np.zeros(len(self.numerator))
        found = [none if part.denominator is None else part.denominator for part in self.parts]
        return np.array([denominator[self.windows.materials] for denominator in found]).T

    def _counts(self, bound: float) -> Floats:
        if self.denominator is None:
            return self.above
        return self.above - (bound - self.offset) * self.below

    def _worst(self, counts: Floats) -> Floats:
        return self.windows.extreme(counts, least=self.side == "at_least")

    def _both(self, amounts: Floats, composition: Floats) -> tuple[float, float]:
        top, bottom = self.over(amounts, composition[None])
        return float(top[0]), float(bottom[0])


@dataclass(frozen=True, eq=False)
class Lots:
    """Turns the measures of a draft into their worst cases.

    Attributes
    ----------
    seen : tuple of mapping
        For each part: the measures that a draft over the pure library of that part has seen, by
        requirement, side and name.
    """

    windows: Windows = field(repr=False)
    seen: tuple[Seen, ...] = field(repr=False)

    def certain(self, key: str, side: Side, place: int, measure: Measure) -> Measure:
        """Return a measure as it is bounded for every lot; as it is where no lot matters to it.

        Parameters
        ----------
        key : str
            Of the requirement.
        side : str
        place : int
            How many measures of that name the requirement has bounded from that side before.
        measure : Measure
        """
        if type(measure) is not Measure or key.startswith(OF_TODAY):
            return measure
        name = (key, side, measure.name)
        none = np.zeros(len(measure.numerator))
        nothing = Measure(measure.name, measure.unit, none, None if measure.denominator is None else none)
        parts = []
        for seen in self.seen:
            found = seen.get(name, ())
            parts.append(found[place] if place < len(found) else nothing)
        worst = WorstCase.of(measure, parts, self.windows, side)
        return worst if self.windows.spread(worst.above) or self.windows.spread(worst.below) else measure


def refuse_exact(draft: Draft) -> None:
    """Note every exact demand that no formula can keep for every lot, by name.

    The total is kept by the water and the pH by acid and base, whatever the lot. So is an exact linear
    rule in which an acid or a base stands: it is held at the typical composition.
    """
    if draft.lots is None:
        return
    for index, moves in draft.moves.items():
        requirement = draft.requirements[index]
        if requirement.side != "equal" or requirement.bound is None:
            continue
        for _, move in moves:
            measure = getattr(move, "measure", None)
            if not isinstance(measure, WorstCase):
                continue
            varying = [i for i in measure.varies(requirement.bound) if int(i) not in draft.forbidden]
            if varying:
                _refuse(draft, requirement, [draft.library.materials[i].id for i in varying])
                break


def follows(draft: Draft, key: str, measure: Measure) -> bool:
    """Tell whether an exact linear rule is kept at the bench, by an acid or a base that stands in it."""
    if "/linear/" not in key:
        return False
    return any(
        material.function in ("acid", "base") and value
        for material, value in zip(draft.library.materials, measure.numerator, strict=True)
    )


def _refuse(draft: Draft, requirement: Requirement, names: list[str]) -> None:
    """Note that an exact demand cannot hold for every lot."""
    shown = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    head, _, rest = requirement.key.rpartition("/")[0].partition("/")
    draft.faults.add(
        f"[{head}] {rest}",
        f"'{requirement.title}' cannot hold for every lot: {shown} vary in composition",
        allowed="at_least below at_most, or no [certainty]",
    )
