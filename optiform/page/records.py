"""Keeps batch records that are filled in on a page: a file each, written again at every entry."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from optiform.page.folder import LONGEST
from optiform.sheets.record.batch_record import BatchRecord, Blank, Part
from optiform.sheets.record.filled import opened_record
from optiform.views.words import sheet_words as words
from optiform.views.words.numbers import fixed, percent

SUFFIX = ".batch.json"


@dataclass(frozen=True)
class Cell:
    """One blank: its name in the file, label, unit, expected value and entry."""

    field: str
    label: str
    unit: str
    wanted: str
    value: str
    figure: bool = False


@dataclass(frozen=True)
class Line:
    """A row of blanks: those of a material, of a step, or of a part."""

    title: str
    target: str
    told: tuple[str, ...]
    cells: tuple[Cell, ...]
    hazard: bool = False


@dataclass(frozen=True)
class Block:
    """A heading with its lines."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Open:
    """A batch record with its entries so far.

    Attributes
    ----------
    filled, blanks : int
        Of how many blanks something stands in how many.
    """

    title: str
    formula: str
    batch: str
    blocks: tuple[Block, ...]
    notes: tuple[str, ...]
    filled: int
    blanks: int


@dataclass(frozen=True)
class Clash:
    """An entry that somebody else changed meanwhile: its value now, and the one that was to be written."""

    field: str
    label: str
    now: str
    mine: str


def begun(record: str, formula: str, day: str, brief: str = "", library: str = "") -> str:
    """Return the file of a record, a `BatchRecord` as JSON, on the day it is begun, with the files it was made from."""
    held = json.loads(record)
    known = {
        f"identity/{blank['key']}": blank["wanted"]
        for blank in held["before"][0]["blanks"]
        if blank["wanted"]
    }
    made_from = {"formula": formula, "brief": brief, "library": library}
    return _written({"begun": day, **made_from, "filled": {**known, "identity/made on": day}, "record": held})


def made_from(text: str, name: str) -> tuple[str, str]:
    """Return the brief and the library of which a record was made; empty where none was named."""
    opened_record(text, name)
    keys = json.loads(text)
    return str(keys.get("brief") or ""), str(keys.get("library") or "")


def opened(text: str, name: str) -> Open:
    """Return a record with its entries.

    Raises
    ------
    BadInput
        A file that is no batch record.
    """
    record, filled = opened_record(text, name)
    blocks = tuple(_blocks(record, filled))
    cells = [cell for block in blocks for line in block.lines for cell in line.cells]
    return Open(
        title=record.title,
        formula=record.formula,
        batch=words.batch_line(record.batch),
        blocks=blocks,
        notes=record.notes,
        filled=sum(bool(cell.value) for cell in cells),
        blanks=len(cells),
    )


def entered(
    text: str, name: str, values: Mapping[str, str], seen: Mapping[str, str]
) -> tuple[str, list[Clash]]:
    """Return a record's file with entries written, and those that somebody else changed since they were `seen`."""
    record, filled = opened_record(text, name)
    known = {
        cell.field: cell for block in _blocks(record, filled) for line in block.lines for cell in line.cells
    }
    clashes = []
    for field, raw in values.items():
        value = raw.strip()[:LONGEST]
        now = filled.get(field, "")
        if field not in known or value in (now, seen.get(field)):
            continue
        if now != seen.get(field, ""):
            clashes.append(Clash(field, known[field].label, now, value))
        elif value:
            filled[field] = value
        else:
            filled.pop(field, None)
    keys = json.loads(text)
    return _written({**keys, "filled": filled}), clashes


def _written(keys: Mapping[str, Any]) -> str:
    return json.dumps(keys, indent=1, ensure_ascii=False) + "\n"


def _blocks(record: BatchRecord, filled: Mapping[str, str]) -> Iterator[Block]:
    """Yield the headings of a record in the order of the work."""
    for part in record.before:
        yield _part(part, filled)
    yield Block("Weigh", tuple(_weighing(record, filled)))
    yield Block("Make", tuple(_steps(record, filled)))
    for part in record.after:
        yield _part(part, filled)


def _cell(lead: str, blank: Blank, filled: Mapping[str, str]) -> Cell:
    field = f"{lead}/{blank.key}"
    figure = blank.unit in ("g", "C", "rpm", "%", "mPa.s", "g/ml") or blank.title.startswith("pH")
    return Cell(field, blank.title, blank.unit, blank.wanted, filled.get(field, ""), figure)


def _part(part: Part, filled: Mapping[str, str]) -> Block:
    rows = [f"{part.key}/{number}" for number in range(1, part.rows + 1)] if part.rows > 1 else [part.key]
    lines = (
        Line("" if len(rows) == 1 else str(number), "", (), tuple(_cell(row, b, filled) for b in part.blanks))
        for number, row in enumerate(rows, 1)
    )
    return Block(part.title, tuple(lines))


def _weighing(record: BatchRecord, filled: Mapping[str, str]) -> Iterator[Line]:
    batch = record.batch
    first = {"actual": 0, "lot": 1}
    blanks = sorted(record.per_material, key=lambda blank: first.get(blank.key, 2))
    for line in batch.lines:
        told = [f"{percent(line.percent)} %", line.phase]
        told += ["too light for this balance"] if line.too_light else []
        cells = tuple(_cell(f"weigh/{line.material}", blank, filled) for blank in blanks)
        target = f"{fixed(line.grams, batch.digits)} g"
        yield Line(
            words.named(line.name, line.hazards), target, (", ".join(told),), cells, bool(line.hazards)
        )


def _steps(record: BatchRecord, filled: Mapping[str, str]) -> Iterator[Line]:
    digits = record.batch.digits
    for step in record.procedure.steps:
        told = [f"{fixed(item.grams, digits)} g {item.name}" for item in step.portions]
        told += [step.what, *([f"Why: {step.why}"] if step.why else [])]
        cells = tuple(_cell(f"step/{step.number}", blank, filled) for blank in record.per_step)
        hazard = any(item.hazards for item in step.portions)
        yield Line(f"{step.number}. {words.step_title(step)}", "", tuple(told), cells, hazard)
