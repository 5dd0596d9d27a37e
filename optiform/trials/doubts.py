"""Finds readings that do not fit the others; each is asked about, none is dropped."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optiform.faults import Fault
from optiform.library.models import Library
from optiform.trials.learned import LOGARITHMIC, Terms, learned
from optiform.trials.models import Bench, Reading, Trial, base_of, counting

ASKED = 0.998
"""A reading is asked about where a new one would fall outside with one chance in five hundred."""

REPEATS_DIFFER = 3.0
"""Two readings of one vessel that differ by more than this factor are not of the same thing."""

NEAR_TEN = 0.15
"""A figure within this of a power of ten times what was predicted (log10) is taken for one that slipped a digit."""

FORMS: tuple[Terms, ...] = ("quadratic", "linear")
"""A reading is doubted where neither form of the fit predicts it: one past a peak is no slip of the pen."""


@dataclass(frozen=True)
class Doubt:
    """A reading that the other trials would not have predicted.

    Attributes
    ----------
    trial : str
    reading : Reading
    low, high : float
        What a new reading would be, 998 times in a thousand; or the other readings of the same vessel.
    meant : float, optional
        The figure that may have been meant, where a digit or a unit slipped.
    """

    trial: str
    reading: Reading
    low: float
    high: float
    meant: float | None = None

    @property
    def fault(self) -> Fault:
        """Return the question as it stands on a screen."""
        value = self.reading.number
        message = f"trial {self.trial} reads {value:g} in {self.reading.measure}; the other readings predict"
        message = f"{message} {self.low:.3g} to {self.high:.3g}"
        near = "" if self.meant is None else f"{self.meant:g}"
        return Fault("", f"reading {self.reading.measure}", message, "--checked, if it is right", near)


def doubts_of(bench: Bench, trial: Trial, library: Library) -> tuple[Doubt, ...]:
    """Return the readings of a trial that the others of its bench do not predict, and were not checked."""
    others = Bench(bench.folder, tuple(other for other in bench.trials if other.name != trial.name))
    found = (_doubt(others, trial, reading, library) for reading in trial.readings if not reading.checked)
    return tuple(doubt for doubt in found if doubt is not None)


def doubts(bench: Bench, library: Library) -> tuple[Doubt, ...]:
    """Return every reading of a bench that the others do not predict, and was not checked."""
    return tuple(doubt for trial in bench.trials for doubt in doubts_of(bench, trial, library))


def _doubt(others: Bench, trial: Trial, reading: Reading, library: Library) -> Doubt | None:
    value = reading.number
    counted = counting(trial.read(reading.measure))
    if value is None or reading not in counted or reading.measure == "pH":
        return None
    logarithm = reading.measure in LOGARITHMIC
    again = [other.number for other in counted if other is not reading and other.number is not None]
    if again and logarithm:
        low, high = min(again) / REPEATS_DIFFER, max(again) * REPEATS_DIFFER
        if low <= value <= high:
            return None
        return Doubt(trial.name, reading, low, high, point_moved(value, again[0]))
    doubt = None
    for terms in FORMS:
        model = learned(others, library, reading.measure, base_of(trial, library), terms)
        predicted = None if model is None or len(model.trials) < 2 else model.interval(trial.percents, ASKED)
        if predicted is None or predicted[1] <= value <= predicted[2]:
            return None
        doubt = Doubt(trial.name, reading, predicted[1], predicted[2], point_moved(value, predicted[0]))
    return doubt


def point_moved(value: float, expected: float, near: float = NEAR_TEN) -> float | None:
    """Return a value with its decimal point moved, where that brings it within `near` decades of what is expected."""
    if value <= 0 or expected <= 0:
        return None
    off = math.log10(value / expected)
    digits = round(off)
    return value / 10.0**digits if digits and abs(off - digits) <= near else None
