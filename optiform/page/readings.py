"""Reads the readings of a trial as they are typed, and finds their faults field by field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from optiform.faults import Faults
from optiform.library import Library
from optiform.library.files.columns import number, two_readings
from optiform.trials.adding import parsed_reading
from optiform.trials.doubts import Doubt, doubts_of
from optiform.trials.models import Bench, Reading
from optiform.views.words.numbers import figure, short

USUAL = ("viscosity", "pH", "foam", "feel")
"""Figures that a bench usually reads; common practice, no source."""
PASSED = ("one phase", "clear")
"""What a trial passes or fails; common practice, no source."""
UNITS = {"viscosity": "mPa.s"}
CONDITIONS = {
    "hours": ("Hours after making", "h", 0.0, 1e6),
    "temperature_C": ("Temperature", "C", -50.0, 150.0),
}
"""Field, label, unit, least and most of what holds for all readings at once."""
OTHER = "something else"


@dataclass(frozen=True)
class Field:
    """One field: its name, label and unit, the text typed into it, and its fault.

    Attributes
    ----------
    kind : str
        figure, gate (yes, no or failed) or text.
    right : str
        Name of the field by which a doubtful figure is said to be right; empty where none is in doubt.
    """

    name: str
    label: str
    unit: str = ""
    value: str = ""
    kind: str = "figure"
    told: str = ""
    right: str = ""


@dataclass(frozen=True)
class Line:
    """The reading of one measure: its value, and the instrument."""

    title: str
    fields: tuple[Field, ...]


@dataclass(frozen=True)
class Typed:
    """The readings of a trial as they are typed.

    Attributes
    ----------
    readings : tuple of Reading
        What can be added as it stands.
    sound : bool
        Whether nothing is wrong in any field.
    photo : str
        Name of the picture in the bench folder that goes along with them.
    """

    lines: tuple[Line, ...]
    conditions: tuple[Field, ...]
    readings: tuple[Reading, ...]
    sound: bool
    photo: str = ""


def typed(bench: Bench, library: Library, trial: str, fields: Mapping[str, str]) -> Typed:
    """Return what was typed about a trial, each fault in its field; unlikely figures are faults too."""
    wrong: dict[str, str] = {}
    hours, warm = (_condition(name, fields.get(name, ""), wrong) for name in CONDITIONS)
    found: dict[str, Reading] = {}
    for measure in _measures(bench):
        value = fields.get(f"value {measure}", "").strip()
        name = fields.get("other", "").strip() if measure == OTHER else measure
        if not value:
            continue
        if not name:
            wrong["other"] = "what was read?"
            continue
        read = _read(name, value, f"value {measure}", wrong)
        if read is not None:
            instrument = _instrument(bench, measure, fields).strip()
            found[measure] = replace(
                read,
                hours=hours,
                temperature_C=warm,
                instrument=instrument,
                note=fields.get("note", "").strip(),
                photo=fields.get("photo", ""),
            )
    held = bench.trial[trial]
    doubts = doubts_of(bench, replace(held, readings=(*held.readings, *found.values())), library)
    doubted = {measure: doubt for measure, read in found.items() for doubt in doubts if doubt.reading == read}
    for measure, doubt in doubted.items():
        if fields.get(f"right {measure}") != fields.get(f"value {measure}"):
            wrong[f"value {measure}"] = _asked(doubt)
    lines = tuple(_line(bench, measure, fields, wrong, measure in doubted) for measure in _measures(bench))
    told = tuple(
        Field(name, label, unit, fields.get(name, ""), told=wrong.get(name, ""))
        for name, (label, unit, _, _) in CONDITIONS.items()
    )
    note = Field("note", "Note", "", fields.get("note", ""), "text")
    return Typed(lines, (*told, note), tuple(found.values()), not wrong, fields.get("photo", ""))


def _measures(bench: Bench) -> tuple[str, ...]:
    """Return the measures of the form: those this bench has read, the usual ones, and one more."""
    return tuple(dict.fromkeys((*bench.measures, *USUAL, *bench.gates, *PASSED, OTHER)))


def _line(
    bench: Bench, measure: str, fields: Mapping[str, str], wrong: Mapping[str, str], asked: bool
) -> Line:
    name = f"value {measure}"
    kind = "gate" if measure in (*bench.gates, *PASSED) and measure not in bench.measures else "figure"
    right = f"right {measure}" if asked else ""
    first = Field(
        name, "Read", UNITS.get(measure, ""), fields.get(name, ""), kind, wrong.get(name, ""), right
    )
    if measure == OTHER:
        other = Field("other", "What", "", fields.get("other", ""), "text", wrong.get("other", ""))
        return Line("Something else", (other, replace(first, kind="text")))
    if kind == "gate":
        return Line(measure, (first,))
    with_what = Field(f"instrument {measure}", "With", "", _instrument(bench, measure, fields), "text")
    return Line(measure, (first, with_what))


def _instrument(bench: Bench, measure: str, fields: Mapping[str, str]) -> str:
    """Return the instrument of a measure: as typed, or as the bench read it last."""
    last = [read.instrument for read in bench.readings() if read.measure == measure and read.instrument]
    return fields.get(f"instrument {measure}", last[-1] if last else "")


def _condition(name: str, text: str, wrong: dict[str, str]) -> float | None:
    _, unit, least, most = CONDITIONS[name]
    if not text.strip():
        return None
    value = None if two_readings(text) else number(text.strip(), comma_decimals=True)
    if value is None or not least <= value <= most:
        wrong[name] = f"'{text.strip()}' is no number from {least:g} to {most:g} {unit}"
        return None
    return value


def _read(measure: str, text: str, field: str, wrong: dict[str, str]) -> Reading | None:
    """Return a reading, its decimals after a comma or a point; None after saying what is wrong."""
    either = two_readings(text)
    if either is not None:
        wrong[field] = f"'{text}' may be {' or '.join(either)}: write it without the comma"
        return None
    faults = Faults()
    whole = number(text, comma_decimals=True)
    read = parsed_reading(f"{measure}={text if whole is None else text.replace(',', '.')}", faults)
    if faults.found:
        fault = faults.found[0]
        wrong[field] = f"{fault.message}; {fault.allowed}"
    return read


def _asked(doubt: Doubt) -> str:
    meant = f" Was {short(doubt.meant)} meant?" if doubt.meant is not None else ""
    return f"The other readings predict {figure(doubt.low, 2)} to {figure(doubt.high, 2)}.{meant}"
