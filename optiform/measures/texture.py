"""Viscosity from the user's own trials: one thickener at a time, inside the tried range, rising branch only."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.library.models import Trust
from optiform.measures.measure import Measure, Row, Side

if TYPE_CHECKING:
    from optiform.library.arrays import Floats
    from optiform.library.models import Library


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
        if not self.percents[0] - 1e-9 <= percent <= self.percents[-1] + 1e-9:
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
    """Return the rising branch of every thickener that was tried in a base."""
    tried: dict[str, dict[float, list[float]]] = {}
    for trial in library.trials:
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
class Viscosity(Measure):
    """Viscosity of a formula whose one tried thickener lies inside its ladder; else null.

    A limit is a window on the amount of the thickener that is chosen, so it has no single row.
    """

    ladders: tuple[Ladder, ...] = field(default=(), kw_only=True, repr=False)
    base: str = field(default="", kw_only=True)

    def value(self, amounts: Floats) -> float | None:
        """Return mPa.s, or None with no tried thickener, with several, or outside the tried range."""
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
        note="from trials in one base; read it the next day, when the foam has settled",
        ladders=found,
        base=base or "",
    )
