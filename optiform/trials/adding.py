"""A trial added to a bench folder: whole, in both files, or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from optiform.faults import BadInput, Fault, Faults, nearest
from optiform.library.files.column_shapes import shapes
from optiform.library.files.columns import number
from optiform.library.files.opening import TABLE_BYTES, is_file, is_folder, read_text
from optiform.library.files.writing import write_together
from optiform.library.models import Library
from optiform.trials.doubts import Doubt, doubts_of
from optiform.trials.models import Bench, Reading, ReadingRow, Trial, WeighedRow
from optiform.trials.reading import READINGS, WEIGHED, YES_OR_NO, load_bench, value_fault

ABOVE, BELOW = ">", "<"
_OPTIONS = {
    "trial": "--trial", "date": "--date", "block": "--block", "brief": "--brief", "parent": "--parent", "lot": "lot",
    "material": "--formula", "grams": "--formula", "measure": "--reading", "value": "--reading", "hours": "--hours",
    "temperature_C": "--temperature", "instrument": "--instrument", "note": "--note", "photo": "--photo",
}  # fmt: skip
"""Under which option each column is typed."""

LATER = ("total_g", "lot", "checked")
"""Columns that a new file has only where something stands in them."""


@dataclass(frozen=True)
class Added:
    """What was added to a bench.

    Attributes
    ----------
    trial : Trial
        As it now stands in the folder; its readings are all that it has.
    new : bool
        Whether it was weighed now, or only read again.
    doubts : tuple of Doubt
        Readings that were asked about and confirmed.
    """

    bench: Bench
    trial: Trial
    new: bool
    doubts: tuple[Doubt, ...] = ()


def parsed_reading(text: str, faults: Faults) -> Reading | None:
    """Return the reading that somebody typed as MEASURE=VALUE, or None after noting what is wrong.

    A value is a number, yes or no; `>60` and `<5` are beyond what can be read, `failed` is a test that failed.
    """
    measure, equals, value = (part.strip() for part in text.partition("="))
    if not equals or not measure:
        faults.add("--reading", f"'{text}' is no reading", allowed="MEASURE=VALUE, such as viscosity=3200")
        return None
    censored = {ABOVE: "above", BELOW: "below"}.get(value[:1], "failed" if value == "failed" else "")
    value = "" if censored == "failed" else value.lstrip(ABOVE + BELOW).strip()
    problem = value_fault(measure, value, censored)
    if problem is not None:
        faults.add(f"--reading {measure}", problem[0], allowed=problem[1], nearest=problem[2])
        return None
    gate = YES_OR_NO.get(value.casefold())
    return Reading(measure, None if gate is not None else number(value), gate, censored)  # type: ignore[arg-type]


def add_trial(folder: str | Path, library: Library, trial: Trial, *, checked: bool = False) -> Added:
    """Append a trial to a folder, or readings to a trial that stands there already.

    Parameters
    ----------
    folder : str or Path
        Made, if there is none yet.
    trial : Trial
        Without lines: its readings belong to the trial of that name. Without a name: the next number.
    checked : bool
        Whoever adds it was asked about doubtful readings, and they are right.

    Raises
    ------
    BadInput
        With every fault; a reading that does not fit the others is one until it is `checked`. Both files are as they
        were.
    """
    folder = Path(folder)
    bench = load_bench(folder, library) if is_file(folder / WEIGHED) else Bench(str(folder))
    new = bool(trial.lines)
    whole = _named(bench, trial) if new else _read_again(bench, trial)
    doubts = doubts_of(bench, whole, library)
    if doubts and not checked:
        raise BadInput([doubt.fault for doubt in doubts])
    doubted = [doubt.reading for doubt in doubts]
    added = tuple(replace(one, checked=True) if one in doubted else one for one in trial.readings)
    contents = {}
    if new:
        rows = [_weighed(whole, material, grams) for material, grams in whole.lines]
        contents[folder / WEIGHED] = _appended(folder / WEIGHED, tuple(shapes(WeighedRow)), rows)
    if added:
        rows = [_read_row(whole.name, reading) for reading in added]
        contents[folder / READINGS] = _appended(folder / READINGS, tuple(shapes(ReadingRow)), rows)
    if not contents:
        raise BadInput(
            [Fault(str(folder), "", "nothing was weighed and nothing was read", "--formula or --reading")]
        )
    _read_first(folder, contents, library)
    if not is_folder(folder):
        try:
            folder.mkdir()
        except OSError as error:
            message = f"the folder cannot be made ({error.strerror or error})"
            raise BadInput([Fault(str(folder), "", message, "a folder that can be written into")]) from None
    write_together(contents)
    after = load_bench(folder, library)
    return Added(after, after.trial[whole.name], new, doubts)


def _read_first(folder: Path, contents: Mapping[Path, bytes], library: Library) -> None:
    """Read the files as they would be, so that what cannot be read is never written."""
    with TemporaryDirectory() as place:
        for name in (WEIGHED, READINGS):
            held = folder / name
            if held in contents or is_file(held):
                (Path(place) / name).write_bytes(contents.get(held) or held.read_bytes())
        try:
            load_bench(place, library)
        except BadInput as bad:
            options = (_OPTIONS.get(fault.place.rpartition("column ")[2], "") for fault in bad.faults)
            raise BadInput(
                replace(fault, file=str(folder), place=option)
                for fault, option in zip(bad.faults, options, strict=True)
            ) from None


def _named(bench: Bench, trial: Trial) -> Trial:
    """Return a new trial with a name that no other has, and a parent that exists."""
    faults = Faults(bench.folder)
    if trial.name in bench.trial:
        faults.add("--trial", f"there is a trial '{trial.name}' already", allowed="a name of its own")
    if trial.parent and trial.parent not in bench.trial:
        near = nearest(trial.parent, bench.trial)
        faults.add(
            "--parent", f"there is no trial '{trial.parent}'", allowed=", ".join(bench.trial), nearest=near
        )
    faults.raise_if_any()
    numbers = [int(name) for name in bench.trial if name.isdecimal()]
    return replace(trial, name=trial.name or str(max(numbers, default=len(bench.trial)) + 1))


def _read_again(bench: Bench, trial: Trial) -> Trial:
    """Return a trial of the folder with its further readings."""
    if trial.name not in bench.trial:
        near = nearest(trial.name, bench.trial) if trial.name else ""
        message = f"there is no trial '{trial.name}'" if trial.name else "no trial is named"
        raise BadInput([Fault(bench.folder, "--trial", message, ", ".join(bench.trial) or "--formula", near)])
    held = bench.trial[trial.name]
    return replace(held, readings=(*held.readings, *trial.readings))


def _weighed(trial: Trial, material: str, grams: float) -> dict[str, str]:
    return {
        "trial": trial.name, "date": trial.date, "block": trial.block, "brief": trial.brief,
        "parent": trial.parent, "material": material, "grams": f"{grams:.10g}",
        "lot": ", ".join(lot for held, lot in trial.lots if held == material),
    }  # fmt: skip


def _read_row(name: str, reading: Reading) -> dict[str, str]:
    value = "" if reading.number is None else f"{reading.number:.10g}"
    if reading.passed is not None:
        value = "yes" if reading.passed else "no"
    return {
        "trial": name, "measure": reading.measure, "value": value, "censored": reading.censored,
        "repeat": "" if reading.repeat is None else str(reading.repeat),
        "hours": _shown(reading.hours), "temperature_C": _shown(reading.temperature_C),
        "instrument": reading.instrument, "note": reading.note, "photo": reading.photo,
        "checked": "yes" if reading.checked else "",
    }  # fmt: skip


def _shown(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _appended(path: Path, columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> bytes:
    """Return a file with further rows under the columns that it has; a column that it lacks is added at its end."""
    faults = Faults()
    text = read_text(path, faults, most=TABLE_BYTES, allowed="a CSV file") if is_file(path) else ""
    faults.raise_if_any()
    held = list(csv.reader(io.StringIO(text or "", newline="")))
    header = held[0] if held else [name for name in columns if name not in LATER]
    missing = [name for name in columns if name not in header and any(row.get(name) for row in rows)]
    whole = io.StringIO(newline="")
    writer = csv.writer(whole, lineterminator="\n")
    writer.writerow([*header, *missing])
    writer.writerows([*record, *([""] * len(missing))] for record in held[1:] if record)
    writer.writerows([row.get(name, "") for name in (*header, *missing)] for row in rows)
    return whole.getvalue().encode("utf-8")
