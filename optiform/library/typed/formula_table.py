"""Reads a formula from a table, as somebody typed it or as the program wrote it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from optiform.faults import Faults
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.tables import Columns, Table
from optiform.library.models import Library
from optiform.library.typed.amounts import REST, amount_of, refuse_mixed_decimals
from optiform.library.typed.matching import Match, matcher, told_matches
from optiform.library.typed.stated_keys import STATED, stated_in
from optiform.library.typed.typed_formula import TypedFormula
from optiform.mappings import FrozenDict

MOST_LINES = 10_000
NAMING = ("material", "ingredient", "name", "inci")
WRITTEN = (
    "rank", "function", "phase", "low", "high", "cost", "currency", "weighed_percent", "too_light", "hazards", "lot",
    "expiry", "actual_g", "weighed_by", "checked_by", "solution_percent", "note", "part", "item", "field", "value",
    *STATED,
)  # fmt: skip
"""Columns that the program's own tables have beside name and amount."""

COLUMNS = Columns(
    "formula",
    ("material", "percent", "grams", *NAMING[1:], *WRITTEN),
    (),
    typed=True,
    also={"%": "percent", "% w/w": "percent", "percent w/w": "percent", "g": "grams"},
)
AGREE = 0.05
"""How far a percent may be from the grams beside it, in points of percent and as a part of itself."""


@dataclass
class _Reading:
    """A table of a formula while it is read."""

    table: Table
    library: Library
    faults: Faults
    entries: Sequence[int]
    unit: str
    amounts: dict[str, float] = field(default_factory=dict)
    stands: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    matched: dict[str, Match] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    rest: int | None = None


def read_formula_table(path: Path, library: Library, rank: int | None, faults: Faults) -> TypedFormula | None:
    """Return the formula in a CSV or a workbook, or None after noting what is wrong with it."""
    table = _table(path, faults)
    if table is None:
        return None
    table = _unfolded(table)
    unit = _unit(table, faults)
    if unit is None:
        return None
    if len(table) > MOST_LINES:
        faults.add("", f"{len(table):,} lines", allowed=f"a formula of up to {MOST_LINES:,} lines")
        return None
    if not len(table):
        if not table.damaged:
            faults.add(table.header(), "the formula has no lines", allowed="material and amount in each line")
        return None
    entries, chosen = _ranked(table, rank, faults)
    refuse_mixed_decimals(table, unit, faults)
    reading = _Reading(table, library, faults, entries, unit)
    _read_lines(reading)
    name = path.stem if chosen is None else f"{path.stem}, formula {chosen}"
    stated = FrozenDict(stated_in(table, entries, faults))
    return replace(_added_up(reading), name=name, file=str(path), rank=chosen, stated=stated)


def _table(path: Path, faults: Faults) -> Table | None:
    if path.suffix.lower() != ".xlsx":
        return read_csv(path, COLUMNS, faults)
    from optiform.library.files.tables import table_of
    from optiform.library.files.xlsx_tables import read_workbook

    workbook = read_workbook(path, faults, lambda names: ["formula" if "formula" in names else names[0]])
    if workbook is None:
        return None
    (raw,) = workbook.sheets.values()
    return table_of(raw, COLUMNS, faults)


def _unfolded(table: Table) -> Table:
    """Return a record of all parts (part, item, field, value) as the table of its batch; others as they are."""
    if not {"part", "item", "field", "value"} <= table.cells.keys():
        return table
    rows: dict[str, int] = {}
    cells: dict[str, list[str]] = {"material": [], "percent": []}
    for entry, (part, item) in enumerate(zip(table.cells["part"], table.cells["item"], strict=True)):
        if part == "batch" and table.cells["field"][entry] == "percent":
            rows[item] = table.rows[entry]
            cells["material"].append(item)
            cells["percent"].append(table.cells["value"][entry])
    return replace(table, rows=tuple(rows.values()), cells=cells)


def _unit(table: Table, faults: Faults) -> str | None:
    """Return the column of the amounts: percent where there are both; None where amounts or names are missing."""
    units = [name for name in ("percent", "grams") if name in table.cells]
    if not units:
        faults.add(table.header(), "no amounts are given", allowed="one column: percent, or grams")
    if not any(name in table.cells for name in NAMING):
        wanted = "a column material, ingredient, name or INCI"
        faults.add(table.header(), "no column names the materials", allowed=wanted)
        return None
    return units[0] if units else None


def _ranked(table: Table, rank: int | None, faults: Faults) -> tuple[Sequence[int], int | None]:
    """Return the entries of one formula of several, and its rank; all of them where the table holds one formula."""
    cells = table.cells.get("rank")
    if cells is None:
        if rank is not None:
            message = f"rank {rank} of a file that holds one formula"
            faults.add("rank", message, allowed="a file of ranked formulas, or no rank")
        return range(len(table)), None
    ranks = [int(cell) if cell.isdecimal() and len(cell) < 6 else None for cell in cells]
    for entry, found in enumerate(ranks):
        if found is None:
            place = table.place(entry, "rank")
            faults.add(place, f"'{cells[entry]}' is no rank", allowed="a whole number, 1 or more")
    there = sorted({found for found in ranks if found is not None})
    chosen = rank if rank is not None else min(there, default=None)
    if rank is not None and rank not in there:
        faults.add("rank", f"there is no formula {rank}", allowed=", ".join(map(str, there[:50])))
    return [entry for entry, found in enumerate(ranks) if found == chosen], chosen


def _read_lines(reading: _Reading) -> None:
    """Read every line of the formula: which material it names, and how much."""
    table, faults = reading.table, reading.faults
    naming = [name for name in NAMING if name in table.cells]
    known = matcher(reading.library)
    for entry in reading.entries:
        texts = [(table.cells[name][entry], name == "inci") for name in naming if table.cells[name][entry]]
        place = table.place(entry, naming[0])
        material = ""
        if not texts:
            faults.add(place, "the cell is empty", allowed="the id or the name of a material")
        else:
            found, by = known.match(texts)
            if len(found) == 1:
                material = found[0]
                if texts[0][0] != material:
                    reading.matched[texts[0][0]] = known.matched(texts[0][0], material, by)
            else:
                known.ask(texts[0][0], found, place, faults)
        reading.stands[material].append(entry)
        reading.amounts.setdefault(material, 0.0)
        _read_amount(reading, entry, material)


def _read_amount(reading: _Reading, entry: int, material: str) -> None:
    """Add the amount of one line to its material; a rest is kept for the end, a solution is taken apart."""
    table, faults = reading.table, reading.faults
    cell = table.cells[reading.unit][entry]
    if REST.fullmatch(cell):
        if reading.rest is not None:
            place = table.place(entry, reading.unit)
            faults.add(
                place, f"q.s. stands already in {table.place(reading.rest)}", allowed="q.s. in one line"
            )
        else:
            reading.rest = entry
        return
    amount = amount_of(table, entry, reading.unit, cell, faults)
    strength = table.cells["solution_percent"][entry] if "solution_percent" in table.cells else ""
    if strength:
        dissolved = amount * amount_of(table, entry, "solution_percent", strength, faults) / 100.0
        water = reading.library.water.id
        reading.amounts[water] = reading.amounts.get(water, 0.0) + amount - dissolved
        amount = dissolved
    reading.amounts[material] += amount


def _added_up(reading: _Reading) -> TypedFormula:
    """Return the lines in percent: grams over their sum, the rest as what is left of 100 %."""
    table, faults, amounts, notes = reading.table, reading.faults, reading.amounts, []
    for name, entries in reading.stands.items():
        if name and len(entries) > 1:
            rows = ", ".join(str(table.rows[entry]) for entry in entries)
            notes.append(f"{name} stands in rows {rows}; the amounts are added")
    total, grams = math.fsum(amounts.values()), None
    if reading.unit == "grams":
        if reading.rest is not None:
            place = table.place(reading.rest, "grams")
            faults.add(place, "q.s. has no meaning among grams", allowed="grams in every line, or percents")
        elif total <= 0:
            faults.add(table.header(), "the grams add to nothing", allowed="amounts above 0")
        else:
            grams = total
            amounts = {name: 100.0 * amount / total for name, amount in amounts.items()}
    elif reading.rest is not None:
        if total > 100.0:
            message = f"nothing is left for q.s.: the other lines add to {total:.10g} %"
            faults.add(table.place(reading.rest, "percent"), message, allowed="other lines of 100 % or less")
        left = round(100.0 - total, 10)
        name = next(name for name, entries in reading.stands.items() if reading.rest in entries)
        amounts = {**amounts, name: amounts[name] + left}
        notes.append(f"{name} is q.s.: {left:.10g} % as the rest to 100 %")
    if "grams" in table.cells and reading.unit == "percent" and not _is_record(table):
        _compare_grams(reading, amounts)
    whole = reading.rest is not None or grams is not None
    matched = tuple(reading.matched.values())
    return TypedFormula(
        name="",
        lines=tuple(amounts.items()),
        total=100.0 if whole else math.fsum(amounts.values()),
        grams=grams,
        notes=(*told_matches(matched), *notes),
        matched=matched,
    )


def _is_record(table: Table) -> bool:
    """Tell whether the program wrote a table with percents as planned and grams as this balance shows them."""
    return "weighed_percent" in table.cells or "solution_percent" in table.cells


def _compare_grams(reading: _Reading, amounts: Mapping[str, float]) -> None:
    """Note the lines in which the grams beside a percent say something else."""
    table, faults = reading.table, reading.faults
    cells = [(entry, table.cells["grams"][entry]) for entry in reading.entries]
    grams = {entry: amount_of(table, entry, "grams", cell, faults) for entry, cell in cells if cell}
    batch = math.fsum(grams.values())
    for name, entries in reading.stands.items():
        if not name or not batch or not all(entry in grams for entry in entries):
            continue
        share = 100.0 * math.fsum(grams[entry] for entry in entries) / batch
        if abs(share - amounts[name]) > AGREE * max(1.0, amounts[name]):
            place = table.place(entries[0], "grams")
            message = f"the grams are {share:.4g} % of the batch, the percent says {amounts[name]:.4g}"
            faults.add(place, message, allowed="figures that agree, or one column: percent, or grams")
