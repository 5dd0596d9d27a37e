"""States limits for every lot: the worst composition of each material, row by row.

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
from optiform.tolerances import LAST_DIGITS, ROUNDING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.measures.measure import Side
    from optiform.program.requirement import Key, Requirement
    from optiform.program.rows.draft import Draft
    from optiform.program.windows import Windows
    from optiform.vectors import Floats, Indices

    Seen = Mapping[tuple[Key, str, str], Sequence[Measure]]

RULES = ("library", "brief")
"""Sections of rules."""

OF_TODAY = ("hold", "keep")
"""Sections of what is held of a baseline: at the typical composition, as today's value is."""


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
        if measure.retaken is not None:
            held["retaken"] = lambda strength: cls.of(
                measure.at_strength(strength), [part.at_strength(strength) for part in parts], windows, side
            )
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
        found: Indices = self.windows.materials[np.abs(ends[1] - ends[0]) > LAST_DIGITS]
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
            if abs(moved - value) <= ROUNDING * max(1.0, abs(value)):
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

    def certain(self, key: Key, side: Side, place: int, measure: Measure) -> Measure:
        """Return a measure as it is bounded for every lot; as it is where no lot matters to it.

        `place` tells how many measures of that name the requirement has bounded from that side before.
        """
        if type(measure) is not Measure or key.section in OF_TODAY:
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


def follows(draft: Draft, key: Key, measure: Measure) -> bool:
    """Tell whether an exact linear rule is kept at the bench, by an acid or a base that stands in it."""
    if key.section not in RULES or key.name != "linear":
        return False
    return any(
        material.function in ("acid", "base") and value
        for material, value in zip(draft.library.materials, measure.numerator, strict=True)
    )


def _refuse(draft: Draft, requirement: Requirement, names: list[str]) -> None:
    """Note that an exact demand cannot hold for every lot."""
    shown = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    key = requirement.key
    section, *which = key.place if key.section in RULES else (key.section, *key.place)
    draft.faults.add(
        f"[{section}] {'/'.join(map(str, which))}",
        f"'{requirement.title}' cannot hold for every lot: {shown} {'varies' if len(names) == 1 else 'vary'} "
        "in composition",
        allowed="at_least below at_most, or no [certainty]",
        file="library.toml" if key.section == "library" else draft.brief.file,
    )
