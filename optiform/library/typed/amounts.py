"""Reads amounts as people type them: percents and masses, and "q.s." for the rest to 100 %."""

from __future__ import annotations

import re

from optiform.faults import Faults
from optiform.library.files.columns import number, number_fault
from optiform.library.files.tables import Table
from optiform.library.models import MOST
from optiform.library.typed.masses import GRAMS_IN

REST = re.compile(r"q\.?\s*s\.?(\s*(to|ad)?\s*100\s*%?)?|(to|ad)\s*100\s*%?", re.IGNORECASE)
UNIT = re.compile(r"\s*(% w/w|%|mg|kg|g)\s*$", re.IGNORECASE)


def refuse_mixed_decimals(table: Table, unit: str, faults: Faults) -> None:
    """Note the points among decimal commas: 1.250 could be a thousand and more, or little more than one."""
    cells = table.cells[unit]
    if not table.comma_decimals or not any("," in cell for cell in cells):
        return
    for entry, cell in enumerate(cells):
        if re.search(r"\d\.\d", cell):
            message = f"'{cell}' has a point, and other amounts have a decimal comma"
            faults.add(table.place(entry, unit), message, allowed="one of the two in all lines")


def amount_of(table: Table, entry: int, unit: str, cell: str, faults: Faults) -> float:
    """Return one amount, or 0 after noting what is wrong with it."""
    allowed = "a number, 0 or more" + (", or q.s." if unit == "percent" else "")
    place = table.place(entry, unit)
    if not cell and any(fault.place == place for fault in faults.found):
        return 0.0
    if not cell:
        faults.add(place, "the cell is empty", allowed=allowed)
        return 0.0
    suffix = UNIT.search(cell)
    of_mass = suffix is not None and suffix[1].casefold() in GRAMS_IN
    text = cell[: suffix.start()] if suffix is not None and of_mass == (unit == "grams") else cell
    times = GRAMS_IN[suffix[1].casefold()] if suffix is not None and of_mass else 1.0
    value = number(text, comma_decimals=table.comma_decimals)
    if value is None:
        message, wanted, near = number_fault(text, allowed)
        faults.add(place, message, allowed=wanted, nearest=near)
        return 0.0
    if value < 0:
        faults.add(place, f"{value:.10g} is below 0", allowed=allowed)
        return 0.0
    if value > MOST:
        faults.add(place, f"{value:g} is out of range", allowed=f"a number from 0 to {MOST:g}")
        return 0.0
    return value * times
