"""Turns a filled batch record into a trial; only amounts written as weighed count."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

from optiform.answers.trials.listing import record_trial
from optiform.answers.trials.model import TrialAdded
from optiform.faults import BadInput, Fault, Faults, nearest
from optiform.library.files.columns import number, number_fault, two_readings
from optiform.library.files.opening import is_file
from optiform.library.models import Library
from optiform.library.typed.masses import GRAMS_IN
from optiform.sheets.record.filled import FilledLine, FilledRecord, read_filled
from optiform.trials.adding import parsed_reading
from optiform.trials.doubts import point_moved
from optiform.trials.models import Reading, Trial
from optiform.trials.reading import WEIGHED, load_bench

OFF_TARGET = 0.1
"""A weighing is asked about where it differs from its target by more than this part (common practice, no source)."""

OFF_BATCH = 0.02
"""Lines that miss the size of the batch by more than this part together are asked about."""

SAME_DOSE = 0.01
"""Two entries of one dose that differ by more than this part are not of one dose."""

CHECKED = "--checked, if it is right"
READ = {
    "in process/pH after": ("pH", 0.0),
    "in process/pH day 1": ("pH", 24.0),
    "in process/viscosity day 0": ("viscosity", 0.0),
    "in process/viscosity day 1": ("viscosity", 24.0),
}
"""Blanks that are readings of the finished wash: measure, and hours after making."""

BEFORE, DOSE, LOOK = "in process/pH before", "in process/dose used", "in process/appearance"
AMOUNT = re.compile(r"(\d[\d.,]*)\s*(mg|kg|g)?", re.IGNORECASE)
FIGURE = re.compile(r"([<>]?\s*\d[\d.,]*)\s*(.*)", re.DOTALL)
UNIT = re.compile(r"(mpa\W?s|cps?|ph)\b\W*", re.IGNORECASE)
DEGREES = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*°?\s*C\b", re.IGNORECASE)


def add_record(
    folder: str | Path, library: Library, path: str | Path, given: Trial, *, checked: bool = False
) -> TrialAdded:
    """Append the trial of a filled batch record to a bench folder, all of it or nothing.

    Parameters
    ----------
    given : Trial
        What was said beside the record: name, parent, day, block, brief, further readings; all of it counts before the
        record's word.
    checked : bool
        Weights far off their targets and doubtful readings were asked about, and they are right.

    Raises
    ------
    BadInput
        With every fault; the bench is as it was.
    """
    made, notes = trial_of(read_filled(path), library, given, checked=checked)
    twin = None if given.name else _twin(folder, library, made)
    if twin is not None:
        message = f"trial {twin} has the same grams of the same day already"
        raise BadInput([Fault(str(path), "", message, "--trial NAME, if it was weighed twice")])
    return record_trial(folder, library, made, checked=checked, notes=notes)


def _twin(folder: str | Path, library: Library, made: Trial) -> str | None:
    """Return the trial of a bench that was made of this record before, if there is one."""
    if not is_file(Path(folder) / WEIGHED):
        return None
    return next(
        (
            held.name
            for held in load_bench(folder, library).trials
            if held.date == made.date and sorted(held.lines) == sorted(made.lines)
        ),
        None,
    )


def trial_of(
    record: FilledRecord, library: Library, given: Trial, *, checked: bool = False
) -> tuple[Trial, tuple[str, ...]]:
    """Return what was weighed and read as a trial, and the entries left out of it.

    Raises
    ------
    BadInput
        With every fault: lines that were not weighed, figures that are no numbers, materials that the library lacks,
        weights far off their targets.
    """
    taken = _Taken(record, library, checked)
    lines, readings = taken.weighed(), taken.read()
    taken.faults.raise_if_any()
    made = replace(
        given,
        name=given.name or record.entries.get("identity/batch number", "").strip(),
        lines=lines,
        readings=(*readings, *given.readings),
        date=given.date or record.entries.get("identity/made on", "").strip(),
        lots=tuple((line.material, line.lot.strip()) for line in record.lines if line.lot.strip()),
    )
    return made, tuple(taken.notes)


@dataclass
class _Taken:
    """A record while it is read, with its faults and the entries left out."""

    record: FilledRecord
    library: Library
    checked: bool
    faults: Faults = field(init=False)
    notes: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.faults = Faults(self.record.file)

    def weighed(self) -> tuple[tuple[str, float], ...]:
        """Return the grams of each material; materials of which 0 was weighed are left out."""
        found: dict[str, float] = {}
        for line in self.record.lines:
            if line.material not in self.library.material:
                near = nearest(line.material, self.library.material)
                self.faults.add(line.place, f"there is no material '{line.material}'", allowed="--library, its own",
                                nearest=near)  # fmt: skip
                continue
            grams = self._grams(line)
            if grams:
                found[line.material] = found.get(line.material, 0.0) + grams
        if not self.faults.found:
            self._ask_for_the_whole(found)
        return tuple(found.items())

    def _grams(self, line: FilledLine) -> float | None:
        only_dose = line.adjusts and sum(one.adjusts for one in self.record.lines) == 1
        dosed = self.record.entries.get(DOSE, "") if only_dose else ""
        if not line.actual and not dosed:
            allowed = "the grams that went in; 0 where nothing did"
            self.faults.add(line.place, "nothing is filled in for what was weighed", allowed=allowed)
            return None
        grams = self._mass(line.actual or dosed, line.place)
        if grams is None:
            return None
        if line.actual and dosed:
            dose = self._mass(dosed, "Acid or base used")
            if dose is not None and abs(dose - grams) > SAME_DOSE * max(dose, grams):
                message = f"{grams:g} g under Weigh, {dose:g} g under acid or base used"
                self.faults.add(line.place, message, allowed="one of the two; the other left empty")
        target = line.target_g
        if (
            target
            and grams
            and not line.adjusts
            and abs(grams - target) > OFF_TARGET * target
            and not self.checked
        ):
            meant = point_moved(grams, target, math.log10(1.0 + OFF_TARGET))
            self.faults.add(
                line.place,
                f"{grams:g} g instead of {target:g} g",
                allowed=CHECKED,
                nearest="" if meant is None else f"{meant:g}",
            )
        return grams

    def _mass(self, text: str, place: str) -> float | None:
        found = AMOUNT.fullmatch(text.strip())
        figure = self._number(found[1] if found else text, place, "grams, such as 12.5")
        return None if figure is None or found is None else figure * GRAMS_IN[(found[2] or "g").casefold()]

    def _number(self, text: str, place: str, allowed: str) -> float | None:
        """Return a figure written by hand; None after noting what is wrong with it."""
        either = None if self.record.comma_decimals else two_readings(text)
        if either is not None:
            message = f"'{text}' could be {' or '.join(either)}"
            self.faults.add(place, message, allowed="decimals by '.', no mark for thousands")
            return None
        value = number(text, comma_decimals=True)
        if value is None:
            message, wanted, near = number_fault(text, allowed)
            self.faults.add(place, message, allowed=wanted, nearest=near)
        return value

    def _ask_for_the_whole(self, found: dict[str, float]) -> None:
        planned = math.fsum(line.target_g or 0.0 for line in self.record.lines)
        whole = math.fsum(found.values())
        if not self.checked and planned and abs(whole - planned) > OFF_BATCH * planned:
            message = f"what was weighed adds up to {whole:.6g} g, and the batch was to be {planned:.6g} g"
            self.faults.add("Weigh", message, allowed=CHECKED)

    def read(self) -> tuple[Reading, ...]:
        """Return the readings of the finished wash, the look as a note of the first."""
        entries, found = self.record.entries, list[Reading]()
        for blank, (measure, hours) in READ.items():
            text = entries.get(blank, "").strip()
            reading = self._reading(text, measure, hours) if text else None
            if reading is not None:
                found.append(reading)
        if entries.get(BEFORE, "").strip():
            self.notes.append(
                "The pH before acid or base is of an unfinished wash: no reading of this trial."
            )
        told = [entries.get(LOOK, "").strip(), *self._deviations()]
        note = "; ".join(filter(None, told))
        if note and found:
            found[0] = replace(found[0], note=note)
        elif note:
            self.notes.append(f"Nothing was read, so that this has no place in readings.csv: {note}")
        return tuple(found)

    def _reading(self, text: str, measure: str, hours: float) -> Reading | None:
        """Return the figure of a blank, and the words after it that say how it was read."""
        place = f"{measure}, day {hours / 24:g}"
        parts = FIGURE.fullmatch(text)
        if parts is None:
            self.faults.add(
                place, f"'{text}' does not begin with a figure", allowed="a number, then how it was read"
            )
            return None
        mark = parts[1][0] if parts[1][0] in "<>" else ""
        figure = self._number(parts[1].lstrip("<> "), place, "a number")
        if figure is None:
            return None
        how = UNIT.sub("", parts[2], count=1) if UNIT.match(parts[2]) else parts[2]
        thousand = re.match(r"pa\W?s\b", how, re.IGNORECASE)
        if thousand:
            self.faults.add(place, f"'{text}' is in Pa.s", allowed="mPa.s", nearest=f"{1000 * figure:g}")
            return None
        reading = parsed_reading(f"{measure}={mark}{figure:.10g}", self.faults)
        degrees = DEGREES.search(how)
        at = None if degrees is None else float(degrees[1].replace(",", "."))
        how = " ".join(how.strip(" ()[],;").split())
        return None if reading is None else replace(reading, hours=hours, temperature_C=at, instrument=how)

    def _deviations(self) -> list[str]:
        entries = self.record.entries
        return [
            text for row in range(1, 10) if (text := entries.get(f"deviations/{row}/deviation", "").strip())
        ]
