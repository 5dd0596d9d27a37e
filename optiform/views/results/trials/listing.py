"""Tells the trials of a bench as a table, one trial, and a trial that was added."""

from __future__ import annotations

from functools import partial

from optiform.answers.trials.model import ListedTrial, TrialAdded, TrialList
from optiform.library import Library
from optiform.trials.doubts import Doubt
from optiform.trials.models import Reading, Trial, counting
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Cell,
    Field,
    Heading,
    Paragraph,
    Rows,
    ask_next,
    bullets,
    joined,
    tabulated,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import NOTHING, figure, fixed, percent, short

CENSORED = {"above": "above ", "below": "below "}
EMPTY = "No trial stands in this folder yet. `optiform trial add` records the first."
TOLD = 2
"""Changes of a trial that are named, the largest first, before the others are counted."""

FIRST_OF_ALL = "the first"


def list_blocks(found: TrialList) -> list[Block]:
    """Return the trials of a bench: changes, readings and doubts."""
    count = len(found.trials)
    blocks: list[Block] = [
        Heading(f"Trials in {found.title}", 1, aside=f"{count} trial{'s' if count != 1 else ''}")
    ]
    if not found.trials:
        return [*blocks, Paragraph(EMPTY)]
    fields = (
        Field("trial", lambda trial: trial.name, head=True),
        Field("made", lambda trial: trial.date or trial.block, sheds=1),
        Field("what changed", changes),
        *(Field(measure, partial(_value, measure=measure), "decimal") for measure in found.measures),
    )
    blocks.append(tabulated("Trials", fields, found.trials))
    return [*blocks, *beside_the_list(found)]


def beside_the_list(found: TrialList) -> list[Block]:
    """Return the stability log, doubts and notes of a bench, without its list."""
    blocks = _later(found)
    asked = [said_doubt(doubt) for trial in found.trials for doubt in trial.doubts]
    blocks += bullets("Please look again", asked, tone="caution")
    return [*blocks, *([Bullets(found.notes)] if found.notes else [])]


def at_a_glance(trial: ListedTrial) -> str:
    """Return one line on a trial: when it was made, what changed, what was read."""
    told = [
        f"{measure} {_value(trial, measure)}"
        for measure in dict.fromkeys(one.measure for one in trial.readings)
    ]
    made = ", ".join(filter(None, (trial.date, trial.block)))
    return "; ".join(filter(None, (made, changes(trial), joined(told) or "not read yet")))


def changes(trial: ListedTrial) -> str:
    """Return what a trial changed: "against 2: Xanthan gum 0.80 to 1.00"."""
    if not trial.against:
        return FIRST_OF_ALL
    names = Names((item.material, item.name) for item in trial.amended)
    largest = sorted(
        trial.amended, key=lambda item: -abs(item.after - item.before) / max(item.after, item.before)
    )
    shown = largest if len(largest) <= TOLD + 1 else largest[:TOLD]
    told = [
        f"{names.within(item.material)} {_amount(item.before)} to {_amount(item.after)}" for item in shown
    ]
    told += [f"{len(largest) - len(shown)} more"] if len(shown) < len(largest) else []
    return f"against {trial.against}: {'; '.join(told)}" if told else f"nothing: a repeat of {trial.against}"


def _amount(value: float) -> str:
    return "none" if value == 0 else percent(value)


def _value(trial: ListedTrial, measure: str) -> str:
    """Return what was read of the fresh wash: a mean, "above 60", yes, no, failed; marked where it is in doubt."""
    read = [reading for reading in trial.readings if reading.measure == measure]
    mark = "?" if any(doubt.reading.measure == measure for doubt in trial.doubts) else ""
    numbers = [reading.number for reading in counting(read) if reading.number is not None]
    if numbers:
        return f"{figure(sum(numbers) / len(numbers), 2)}{mark}"
    return said_value(read[-1]) if read else NOTHING


def said_value(reading: Reading) -> str:
    """Return the value of one reading as a cell of a table."""
    if reading.passed is not None:
        return "yes" if reading.passed else "no"
    if reading.number is None:
        return "failed"
    return f"{CENSORED.get(reading.censored, '')}{short(reading.number)}"


def said_doubt(doubt: Doubt) -> str:
    """Return a doubtful reading as a question."""
    low, high = figure(doubt.low, 2), figure(doubt.high, 2)
    meant = f" Was {short(doubt.meant)} meant?" if doubt.meant is not None else ""
    place = f" (readings.csv, row {doubt.reading.row})" if doubt.reading.row else ""
    return (
        f"Trial {doubt.trial} reads {short(doubt.reading.number or 0.0)} in {doubt.reading.measure}{place}; the others "
        f"predict {low} to {high}.{meant} If it is right, write yes under `checked`. It counts meanwhile."
    )


STABILITY = (
    Field("trial", lambda pair: pair[0], head=True, once=True),
    Field("after", lambda pair: NOTHING if pair[1].hours is None else f"{pair[1].hours / 24:.0f} d", "right"),
    Field(
        "at",
        lambda pair: NOTHING if pair[1].temperature_C is None else f"{pair[1].temperature_C:g} C",
        "right",
    ),
    Field("what", lambda pair: pair[1].measure),
    Field("read", lambda pair: said_value(pair[1]), "decimal"),
    Field("note", lambda pair: pair[1].note, sheds=1),
)


def _later(found: TrialList) -> list[Block]:
    """Return the stability log: what was read later, or not at room temperature."""
    pairs = [(trial.name, reading) for trial in found.trials for reading in trial.later]
    if not pairs:
        return []
    return [Heading("Stability log"), tabulated("Stability log", STABILITY, pairs)]


READ = (
    Field("read", lambda one: one.measure, head=True),
    Field("", said_value, "decimal"),
    Field("after", lambda one: NOTHING if one.hours is None else f"{one.hours:g} h", "right"),
    Field("at", lambda one: NOTHING if one.temperature_C is None else f"{one.temperature_C:g} C", "right"),
    Field("with", lambda one: one.instrument, sheds=1),
)


def trial_blocks(trial: Trial, library: Library) -> list[Block]:
    """Return one trial: what was weighed for it, and what was read of it."""
    weighed = (
        Field("weighed", lambda line: library.material[line[0]].name, head=True),
        Field("g", lambda line: fixed(line[1], 2), "decimal"),
        Field("%", lambda line: percent(trial.percents[line[0]]), "decimal"),
    )
    told = [
        trial.date,
        trial.block,
        f"changes {trial.parent}" if trial.parent else "",
        f"{fixed(trial.total_g, 2)} g",
    ]
    blocks: list[Block] = [Heading(f"Trial {trial.name}", 1, aside=", ".join(filter(None, told)))]
    if trial.readings:
        blocks.append(tabulated("What was read", READ, trial.readings))
    return [*blocks, tabulated("What was weighed", weighed, trial.lines)]


def added_blocks(found: TrialAdded) -> list[Block]:
    """Return the trial or readings that were added, and the next commands."""
    trial = found.trial
    what = f"Trial {trial.name} recorded" if found.new else f"Readings of trial {trial.name} recorded"
    blocks: list[Block] = [Heading(what, 1, aside=f"{found.trials} in {found.title}")]
    if found.new:
        blocks.append(Paragraph(f"{fixed(trial.total_g, 2)} g; {changes(trial)}."))
    told = [f"{reading.measure} {said_value(reading)}" for reading in trial.readings]
    if told:
        blocks.append(Paragraph(f"Read: {joined(told)}."))
    asked = [said_doubt(doubt) for doubt in trial.doubts]
    blocks += [Bullets(tuple(asked), tone="caution")] if asked else []
    blocks += [Bullets(found.notes)] if found.notes else []
    return [*blocks, *ask_next("optiform trial learn DIR", "optiform trial list DIR")]


def list_rows(found: TrialList) -> Rows:
    """Return every reading as a row of a table."""
    columns = (
        "trial",
        "date",
        "block",
        "against",
        "changed",
        "measure",
        "value",
        "hours",
        "temperature_C",
        "note",
    )
    rows: list[tuple[Cell, ...]] = []
    for trial in found.trials:
        begun = (trial.name, trial.date, trial.block, trial.against, changes(trial))
        read = (*trial.readings, *trial.later)
        rows += [
            (*begun, one.measure, said_value(one), one.hours, one.temperature_C, one.note) for one in read
        ]
        rows += [(*begun, "", "", None, None, "")] if not read else []
    return columns, rows
