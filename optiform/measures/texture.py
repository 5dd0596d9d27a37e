"""Viscosity from the user's own trials: one thickener, inside the tried range and the tried base, rising branch."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.library.models import Library, Trust
from optiform.library.selection import parse_reference
from optiform.measures import surfactants
from optiform.measures.measure import Measure, Row, Side
from optiform.tolerances import ROUNDING, TOLERANCE
from optiform.vectors import Floats

ALL_OF_IT = 99.0
"""Traces of another surfactant, up to a hundredth of active matter, do not make another base."""


@dataclass(frozen=True)
class Ladder:
    """What trials say of one thickener in one base, on the rising branch.

    Attributes
    ----------
    percents : tuple of float  [% w/w], rising
    logs : tuple of float  [log10 mPa.s], rising
    """

    material: str
    percents: tuple[float, ...]
    logs: tuple[float, ...]

    def log_at(self, percent: float) -> float | None:
        """Return log10 of the viscosity at an amount, or None outside the tried range."""
        if not self.percents[0] - ROUNDING <= percent <= self.percents[-1] + ROUNDING:
            return None
        return float(np.interp(percent, self.percents, self.logs))

    def window(self, low: float | None, high: float | None) -> tuple[float, float] | None:
        """Return the amounts that give a viscosity between two values [mPa.s], or None if none does."""
        lowest = self.logs[0] if low is None else float(np.log10(low))
        highest = self.logs[-1] if high is None else float(np.log10(high))
        if lowest > self.logs[-1] or highest < self.logs[0] or lowest > highest:
            return None
        return (
            float(np.interp(lowest, self.logs, self.percents)),
            float(np.interp(highest, self.logs, self.percents)),
        )


def ladders(library: Library, base: str) -> tuple[Ladder, ...]:
    """Return the rising branch of every thickener that was tried in a base; trials of others teach nothing."""
    tried: dict[str, dict[float, list[float]]] = {}
    for trial in library.own_trials:
        if trial.base == base:
            tried.setdefault(trial.material, {}).setdefault(trial.percent, []).append(np.log10(trial.mPa_s))
    found = []
    for material, points in tried.items():
        percents = sorted(points)
        means = [float(np.mean(points[percent])) for percent in percents]
        rising = 1
        while rising < len(percents) and means[rising] > means[rising - 1]:
            rising += 1
        if rising >= 2:
            found.append(Ladder(material, tuple(percents[:rising]), tuple(means[:rising])))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Window:
    """What a measure of the surfactants was in the trials of a base, from the lowest to the highest."""

    measure: Measure
    low: float
    high: float

    def holds(self, amounts: Floats) -> bool:
        """Tell whether a formula lies inside."""
        value = self.measure.value(amounts)
        return value is not None and self.low - TOLERANCE <= value <= self.high + TOLERANCE


def windows_of_base(library: Library, base: str) -> tuple[Window, ...]:
    """Return what makes a wash one of a base: its strength, its kinds of surfactant, and no other kind.

    Empty where library.toml does not describe the base.
    """
    described = next((item for item in library.bases if item.name == base), None)
    if described is None:
        return ()
    found = [Window(surfactants.strength(library), *described.active)]
    every = np.zeros(len(library.materials))
    for reference, (low, high) in described.shares.items():
        kind, word = parse_reference(reference)
        kind = kind if ":" in reference else word
        measure = surfactants.share(library, kind, word, f"share:{reference}")
        every = np.maximum(every, measure.numerator)
        found.append(Window(measure, low, high))
    active = surfactants.strength(library).numerator
    name = f"share of the kinds of surfactant tried in {base}"
    known = Measure(name, "% of active matter", every, active, lowest=0.0, highest=100.0, digits=1)
    return (*found, Window(known, ALL_OF_IT, 100.0))


@dataclass(frozen=True, eq=False)
class Viscosity(Measure):
    """Viscosity of a formula whose one tried thickener lies inside its ladder, in a tried base; else null.

    A limit is a window on the amount of the thickener that is chosen, so it has no single row.

    Attributes
    ----------
    windows : tuple of Window
        What makes a wash one of the base; empty where the base is not described, and then no
        formula has a viscosity: whether it is like the trials nobody can tell.
    """

    ladders: tuple[Ladder, ...] = field(default=(), kw_only=True, repr=False)
    base: str = field(default="", kw_only=True)
    windows: tuple[Window, ...] = field(default=(), kw_only=True, repr=False)

    def value(self, amounts: Floats) -> float | None:
        """Return mPa.s, or None outside what was tried: another base, no tried thickener or several."""
        if not self.windows or not all(window.holds(amounts) for window in self.windows):
            return None
        used = [(ladder, float(amounts[index])) for ladder, index in self.placed if amounts[index] > 0]
        if len(used) != 1:
            return None
        ladder, percent = used[0]
        log = ladder.log_at(percent)
        return None if log is None else float(10.0**log)

    @property
    def placed(self) -> tuple[tuple[Ladder, int], ...]:
        """Return each ladder with the position of its material."""
        positions = np.flatnonzero(self.numerator)
        return tuple(zip(self.ladders, (int(i) for i in positions), strict=True))

    def row(self, side: Side, bound: float) -> Row:
        """Refuse: the program turns a viscosity window into amounts of the chosen thickener."""
        raise NotImplementedError("viscosity is limited through the amount of its thickener")


def viscosity(library: Library, base: str | None) -> Viscosity:
    """Return the viscosity measure of a library in a surfactant base."""
    found = ladders(library, base) if base is not None else ()
    index = library.arrays.material_index
    found = tuple(sorted(found, key=lambda ladder: index[ladder.material]))
    flags = np.zeros(len(library.materials))
    for ladder in found:
        flags[index[ladder.material]] = 1.0
    return Viscosity(
        name="viscosity",
        unit="mPa.s",
        numerator=flags,
        lowest=0.0,
        trust=Trust.OWN if found else Trust.ESTIMATE,
        digits=0,
        note="from your own trials in one base, inside what was tried; read it the next day, when the foam has settled",
        ladders=found,
        base=base or "",
        windows=windows_of_base(library, base) if found and base is not None else (),
    )
