"""From the two files of a bench folder to trials, or to everything that is wrong with the files."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from optiform.faults import BadInput, Faults, nearest
from optiform.library.files.columns import Entries, number, number_fault
from optiform.library.files.opening import is_file, is_folder, names_in
from optiform.library.files.tables import row_of
from optiform.library.files.typed_tables import columns_of, read_entries
from optiform.library.models import Library
from optiform.mappings import FrozenDict
from optiform.trials.models import Bench, Reading, ReadingRow, Trial, WeighedRow

WEIGHED, READINGS = "weighed.csv", "readings.csv"
ROWS = 20_000
"""Most rows of either file: a thousand trials of twenty materials are more than a bench has ever seen."""

WEIGHED_COLUMNS = columns_of("weighed", WeighedRow, most=ROWS)
READINGS_COLUMNS = columns_of("readings", ReadingRow, most=ROWS)

OFF = 0.01
"""A batch whose checked mass differs from the sum of its lines by more than this part was not weighed as written."""

USUAL_MEASURES = (
    "viscosity",
    "pH",
    "foam",
    "feel",
    "cloud",
    "one phase",
    "clear",
    "gelled",
    "clarity",
    "colour",
)
YES_OR_NO: Mapping[str, bool] = FrozenDict({"yes": True, "no": False})
WITH_UNIT = re.compile(r"([+-]?\d[\d.,]*)\s*(mpa\W?s|pa\W?s|cp|cps|%|mm|cm|ml)", re.IGNORECASE)


def load_bench(folder: str | Path, library: Library) -> Bench:
    """Read a bench folder; trials that are returned can be relied on.

    Parameters
    ----------
    folder : str or Path
        Holds weighed.csv and, once something was read, readings.csv.
    library : Library
        Whose materials the trials name.

    Raises
    ------
    BadInput
        With every fault of both files: no such folder, unknown materials, one name for two trials, a total that is not
        the sum, a parent or a reading of no trial, values that are no number, units in a cell.
    """
    folder, faults = Path(folder), Faults()
    if not is_folder(folder):
        beside = (name for name in names_in(folder.parent) or () if is_folder(folder.with_name(name)))
        near = nearest(folder.name, beside)
        faults.add("", "there is no such bench folder", allowed=f"a folder with {WEIGHED}", file=folder,
                   nearest=str(folder.with_name(near)) if near else "")  # fmt: skip
        raise BadInput(faults.found)
    if not is_file(folder / WEIGHED):
        near = nearest(WEIGHED, names_in(folder) or (), cutoff=0.75)
        faults.add(
            "", "the file is missing", allowed="trial,material,grams", nearest=near, file=folder / WEIGHED
        )
        raise BadInput(faults.found)
    weighed = read_entries(folder / WEIGHED, WeighedRow, WEIGHED_COLUMNS, faults)
    readings = None
    if is_file(folder / READINGS):
        readings = read_entries(folder / READINGS, ReadingRow, READINGS_COLUMNS, faults)
    if weighed.table is None:
        raise BadInput(faults.found)
    trials = _trials(weighed, library, faults)
    named = dict.fromkeys(name for name in weighed.texts("trial") if name)
    read = _readings(readings, tuple(named), faults) if readings is not None else {}
    if faults.found:
        raise BadInput(sorted(faults.found, key=lambda fault: (fault.file, row_of(fault))))
    return Bench(
        str(folder),
        notes=_no_pictures(folder, read),
        trials=tuple(replace(trial, readings=read.get(trial.name, ())) for trial in trials),
    )


def _no_pictures(folder: Path, read: Mapping[str, tuple[Reading, ...]]) -> tuple[str, ...]:
    """Return which pictures the readings name that are not in the folder."""
    inside = names_in(folder) or frozenset()
    return tuple(
        f"Trial {trial}: there is no picture '{reading.photo}' in the folder."
        for trial, readings in read.items()
        for reading in readings
        if reading.photo and reading.photo not in inside
    )


def _trials(weighed: Entries[WeighedRow], library: Library, faults: Faults) -> list[Trial]:
    """Put the lines of each trial together; they stand below each other."""
    groups: dict[str, list[int]] = {}
    last = ""
    for i, row in enumerate(weighed.items):
        if row.trial in groups and row.trial != last:
            message = f"there is a trial '{row.trial}' further up already"
            _add(faults, weighed, i, "trial", message, "a name of its own, or its lines below each other")
        groups.setdefault(row.trial, []).append(i)
        last = row.trial
        if row.material not in library.material:
            message, near = f"there is no material '{row.material}'", nearest(row.material, library.material)
            _add(faults, weighed, i, "material", message, "an id of the library", near)
    return [_trial(weighed, rows, tuple(groups), faults) for rows in groups.values()]


def _add(
    faults: Faults, entries: Entries[Any], i: int, column: str, what: str, allowed: str, near: str = ""
) -> None:
    """Note what is wrong with a cell."""
    file, place = entries.place(i, column)
    faults.add(place, what, allowed=allowed, nearest=near, file=file)


def _trial(weighed: Entries[WeighedRow], at: list[int], names: tuple[str, ...], faults: Faults) -> Trial:
    rows = [weighed.items[i] for i in at]
    first, lines = rows[0], dict[str, float]()
    for i, row in zip(at, rows, strict=True):
        lines[row.material] = lines.get(row.material, 0.0) + row.grams
        for column in ("date", "block", "brief", "parent"):
            if getattr(row, column) not in ("", getattr(first, column)):
                message = f"trial '{row.trial}' has another {column} above: '{getattr(first, column)}'"
                _add(faults, weighed, i, column, message, "the same in every line of a trial")
    earlier = names[: names.index(first.trial)]
    if first.parent and first.parent not in earlier:
        message, near = f"there is no earlier trial '{first.parent}'", nearest(first.parent, earlier)
        _add(faults, weighed, at[0], "parent", message, "the name of an earlier trial", near)
    whole = math.fsum(lines.values())
    total = next((row.total_g for row in rows if row.total_g is not None), None)
    if total is not None and abs(whole - total) > OFF * total:
        message = f"the lines of trial '{first.trial}' add up to {whole:g} g, not to {total:g} g"
        _add(faults, weighed, at[0], "total_g", message, "lines that add up, within 1 %")
    lots = tuple((row.material, row.lot) for row in rows if row.lot)
    return Trial(
        first.trial, tuple(lines.items()), (), first.date, first.block, first.brief, first.parent, lots
    )


def _readings(
    entries: Entries[ReadingRow], trials: tuple[str, ...], faults: Faults
) -> dict[str, tuple[Reading, ...]]:
    found: dict[str, list[Reading]] = {}
    kinds: dict[str, bool] = {}
    known = dict.fromkeys(USUAL_MEASURES)
    for i, row in enumerate(entries.items):
        if row.trial not in trials:
            message, near = f"there is no trial '{row.trial}'", nearest(row.trial, trials)
            _add(faults, entries, i, "trial", message, "a trial of weighed.csv", near)
        near = "" if row.measure in known else nearest(row.measure, known, cutoff=0.8)
        if near:
            message = f"there is no measure '{row.measure}' so far"
            _add(faults, entries, i, "measure", message, ", ".join(known), near)
            continue
        known[row.measure] = None
        reading = _reading(entries, i, faults)
        if reading is None:
            continue
        gate = reading.passed is not None
        if (reading.number is not None or gate) and kinds.setdefault(row.measure, gate) != gate:
            message = f"'{row.value}' is not of the kind of the other readings of {row.measure}"
            _add(faults, entries, i, "value", message, "a number" if gate else "yes or no")
        found.setdefault(row.trial, []).append(reading)
    return {trial: tuple(read) for trial, read in found.items()}


def _reading(entries: Entries[ReadingRow], i: int, faults: Faults) -> Reading | None:
    """Return a reading, or None after noting what is wrong with its value."""
    row = entries.items[i]
    problem = value_fault(row.measure, row.value, row.censored)
    if problem is not None:
        _add(faults, entries, i, "value", *problem)
        return None
    table = entries.table
    return Reading(
        row.measure,
        number(row.value) if row.value.casefold() not in YES_OR_NO else None,
        YES_OR_NO.get(row.value.casefold()),
        row.censored,
        None if row.repeat is None else int(row.repeat),
        row.hours,
        row.temperature_C,
        row.instrument,
        row.note,
        row.photo,
        row.checked == "yes",
        0 if table is None else table.rows[entries.at[i] if entries.at else i],
    )


def value_fault(measure: str, value: str, censored: str = "") -> tuple[str, str, str] | None:
    """Return what is wrong with the value of a reading (message, what is allowed, nearest), or None."""
    if value.casefold() in YES_OR_NO or (not value and censored == "failed"):
        return None
    if not value:
        return "the cell is empty", "a number, or yes or no", ""
    unit, read = WITH_UNIT.fullmatch(value), number(value)
    if unit is not None:
        near = _converted(measure, *unit.groups())
        return f"'{value}' has a unit in it", f"the number alone, {in_unit(measure)}", near
    if read is None:
        message, _, near = number_fault(value, "")
        return message, "a number, decimals by '.'; or yes or no", near
    return _out_of_range(measure, read)


def _out_of_range(measure: str, read: float) -> tuple[str, str, str] | None:
    if measure == "pH" and not 0 <= read <= 14:
        return f"a pH of {read:g} is not allowed", "a number from 0 to 14", ""
    if measure == "viscosity" and read <= 0:
        return f"a viscosity of {read:g} is not allowed", "a number above 0, in mPa.s", ""
    return None


def in_unit(measure: str) -> str:
    """Return in which unit a measure is written, in words."""
    return {"viscosity": "in mPa.s", "pH": "without unit"}.get(measure, "always in the same unit")


def _converted(measure: str, figure: str, unit: str) -> str:
    """Return a figure without its unit, Pa.s as mPa.s; empty where it is no number."""
    read = number(figure)
    if read is None:
        return ""
    thousand = measure == "viscosity" and re.fullmatch(r"pa\W?s", unit, re.IGNORECASE) is not None
    return f"{read * 1000:g}" if thousand else f"{read:g}"
