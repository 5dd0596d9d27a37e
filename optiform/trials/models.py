"""What a bench folder holds: trials as weighed, and what was read of each."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from statistics import fmean
from typing import Annotated, Literal

from pydantic import Field

from optiform.library.models import LEAST_GRAMS, MOST_GRAMS, Frozen, Library

Censored = Literal["", "above", "below", "failed"]
Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^\S(.*\S)?$")]
OVERNIGHT_HOURS = 12.0
"""Air makes a wash look thick, and gums build overnight: an earlier reading does not count beside a later one."""

RESTED_HOURS = 72.0
"""A reading up to this long after making is one of the fresh wash; later ones belong to the stability log."""

ROOM_C = (15.0, 30.0)
"""A reading between these temperatures, or at none that is stated, is one at room temperature."""

SAME, SAME_PART = 0.01, 0.005
"""Amounts within this of each other [% w/w], or within this part of themselves, are meant to be the same."""

STRUCTURAL = frozenset({"surfactant", "thickener"})
"""Functions of the materials that make a base: what was learned in one tells nothing of another."""

ONE_PHASE = "one phase"
"""The gate of a wash that has not parted; one that has teaches nothing else."""


class WeighedRow(Frozen):
    """One material of a trial, as it was really weighed."""

    trial: Name = Field(description="your name for the trial; a number will do")
    date: str = Field(default="", max_length=40, description="when it was made")
    block: str = Field(default="", max_length=60, description="the day, or the lots of raw materials")
    brief: str = Field(default="", max_length=200, description="the brief that it tries")
    parent: str = Field(default="", max_length=60, description="the trial that this one changes")
    material: str = Field(description="id")
    grams: float = Field(ge=LEAST_GRAMS, le=MOST_GRAMS, json_schema_extra={"unit": "g"})
    total_g: float | None = Field(
        default=None, ge=LEAST_GRAMS, le=MOST_GRAMS, description="what all of it weighed, if that was checked",
        json_schema_extra={"unit": "g"},
    )  # fmt: skip
    lot: str = Field(default="", max_length=200, description="of the material, as its label says")


class ReadingRow(Frozen):
    """One reading of a trial."""

    trial: Name = Field(description="as in weighed.csv")
    measure: Name = Field(description="viscosity, pH, foam, feel, one phase, clear ...")
    value: str = Field(default="", description="a number, or yes or no")
    censored: Censored = Field(default="", description="beyond what can be read, or a test that failed")
    repeat: float | None = Field(default=None, ge=1, le=1000, description="which reading of the same vessel")
    hours: float | None = Field(
        default=None, ge=0, le=1e6, description="after making", json_schema_extra={"unit": "h"}
    )
    temperature_C: float | None = Field(default=None, ge=-50, le=150, json_schema_extra={"unit": "C"})
    instrument: str = Field(default="", description="spindle and speed, meter, beaker")
    note: str = ""
    photo: str = Field(default="", description="name of a picture in the folder")
    checked: Literal["", "yes"] = Field(
        default="", description="yes: you were asked about it, and it is right"
    )


@dataclass(frozen=True)
class Reading:
    """What was read of a trial.

    Attributes
    ----------
    number : float, optional
        The value, where it is a number.
    passed : bool, optional
        The value, where it is yes or no.
    row : int
        Where it stands in readings.csv; 0 for one in memory.
    """

    measure: str
    number: float | None = None
    passed: bool | None = None
    censored: Censored = ""
    repeat: int | None = None
    hours: float | None = None
    temperature_C: float | None = None
    instrument: str = ""
    note: str = ""
    photo: str = ""
    checked: bool = False
    row: int = field(default=0, compare=False)

    @property
    def usual(self) -> bool:
        """Tell whether it is of the fresh wash at room temperature: others belong to the stability log."""
        rested = self.hours is None or self.hours <= RESTED_HOURS
        return rested and (self.temperature_C is None or ROOM_C[0] <= self.temperature_C <= ROOM_C[1])

    @property
    def rested(self) -> bool:
        """Tell whether the wash had stood overnight; a reading that does not say when it was made had."""
        return self.hours is None or self.hours >= OVERNIGHT_HOURS

    @property
    def countable(self) -> bool:
        """Tell whether a regression may use it: a number, not censored, under usual conditions."""
        return self.number is not None and not self.censored and self.usual


def counting(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """Return those of one measure that a regression uses: the rested ones, or all where none had rested."""
    found = tuple(reading for reading in readings if reading.countable)
    return tuple(reading for reading in found if reading.rested) or found


@dataclass(frozen=True)
class Trial:
    """One wash that was made.

    Attributes
    ----------
    lines : tuple of (material id, grams)
        Each material once, as weighed.
    readings : tuple of Reading
    lots : tuple of (material id, lot)
        Of the materials whose lot was written down.
    """

    name: str
    lines: tuple[tuple[str, float], ...]
    readings: tuple[Reading, ...] = ()
    date: str = ""
    block: str = ""
    brief: str = ""
    parent: str = ""
    lots: tuple[tuple[str, str], ...] = ()

    @cached_property
    def total_g(self) -> float:
        """Return the mass of the batch  [g]."""
        return math.fsum(grams for _, grams in self.lines)

    @cached_property
    def percents(self) -> dict[str, float]:
        """Return % w/w by material id."""
        return {material: 100.0 * grams / self.total_g for material, grams in self.lines}

    def read(self, measure: str) -> tuple[Reading, ...]:
        """Return the readings of a measure."""
        return tuple(reading for reading in self.readings if reading.measure == measure)

    def value(self, measure: str, *, logarithm: bool = False) -> float | None:
        """Return the mean of the readings that count, the geometric one for a logarithm; None where there are none.

        Repeated readings of one vessel say how steady the meter is, not how steady the bench is: they are one value.
        """
        numbers = [reading.number for reading in counting(self.read(measure))]
        found = [number for number in numbers if number is not None and (number > 0 or not logarithm)]
        if not found:
            return None
        return fmean(map(math.log10, found)) if logarithm else fmean(found)

    def passed(self, gate: str) -> bool | None:
        """Tell whether a gate was passed at every reading of it; None where there was none."""
        read = [
            reading
            for reading in self.read(gate)
            if reading.passed is not None or reading.censored == "failed"
        ]
        return all(bool(reading.passed) for reading in read) if read else None

    @property
    def parted(self) -> bool:
        """Tell whether it is known that the wash did not stay one phase."""
        return self.passed(ONE_PHASE) is False


def same_amount(one: float, other: float) -> bool:
    """Tell whether two amounts are one, as far as a balance and a spoon can make them  [% w/w]."""
    return abs(one - other) <= max(SAME, SAME_PART * max(one, other))


def repeats(trials: Sequence[Trial], but: str) -> tuple[int, ...]:
    """Return for each trial the number of its formula: trials of one number are repeats.

    `but` is a material that takes the difference, water.
    """
    kinds: list[Trial] = []
    found = []
    for trial in trials:
        names = {name for name in trial.percents if name != but}
        for number, kind in enumerate(kinds):
            both = names.union(kind.percents) - {but}
            if all(same_amount(trial.percents.get(name, 0.0), kind.percents.get(name, 0.0)) for name in both):
                found.append(number)
                break
        else:
            found.append(len(kinds))
            kinds.append(trial)
    return tuple(found)


def base_of(trial: Trial, library: Library) -> frozenset[str]:
    """Return the surfactants and thickeners of a trial, by id: what a fitted measure holds for."""
    return frozenset(
        material
        for material in trial.percents
        if STRUCTURAL.intersection(library.material[material].functions)
    )


@dataclass(frozen=True)
class Bench:
    """All trials of a folder, in the order in which they were weighed.

    Attributes
    ----------
    notes : tuple of str
        What was understood rather than read.
    """

    folder: str
    trials: tuple[Trial, ...] = ()
    notes: tuple[str, ...] = ()

    @cached_property
    def trial(self) -> dict[str, Trial]:
        """Return the trials by name."""
        return {trial.name: trial for trial in self.trials}

    @cached_property
    def measures(self) -> tuple[str, ...]:
        """Return the measures that were read as numbers, in the order of their first reading."""
        return self._named(lambda reading: reading.number is not None)

    @cached_property
    def gates(self) -> tuple[str, ...]:
        """Return what was read as yes or no."""
        return self._named(lambda reading: reading.passed is not None)

    def _named(self, test: Callable[[Reading], bool]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(reading.measure for reading in self.readings() if test(reading)))

    def readings(self) -> Iterator[Reading]:
        """Yield every reading."""
        for trial in self.trials:
            yield from trial.readings

    def bases(self, library: Library) -> dict[frozenset[str], tuple[Trial, ...]]:
        """Return the trials by base, in the order of each base's first trial."""
        found: dict[frozenset[str], list[Trial]] = {}
        for trial in self.trials:
            found.setdefault(base_of(trial, library), []).append(trial)
        return {base: tuple(trials) for base, trials in found.items()}
