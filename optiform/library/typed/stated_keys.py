"""Reads what an answer states of its brief beside a formula, as keys of a brief."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from optiform.faults import Faults
from optiform.library.files.tables import Table
from optiform.library.typed.amounts import amount_of

WORDS = ("law", "product", "area")
STATED = (*WORDS, "users", "on", "pH_at_least", "pH_at_most", "pH_set", "waive")
"""Columns of an answer's table that say what its formulas were made for, the same in every row."""
BETWEEN = "; "
"""Stands between the words of one cell."""


def stated_by(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keys of a brief that an answer's document states; empty where it states none."""
    brief = document.get("brief")
    return _keys(brief) if isinstance(brief, dict) else {}


def stated_in(table: Table, entries: Sequence[int], faults: Faults) -> dict[str, Any]:
    """Return the keys of a brief that the rows of one formula state, noting every cell that is no number."""
    cells: dict[str, Any] = {
        name: table.cells[name][entries[0]] for name in STATED if entries and name in table.cells
    }
    for name in ("users", "waive"):
        cells[name] = [word for word in cells.get(name, "").split(BETWEEN) if word]
    pH = {
        end: amount_of(table, entries[0], f"pH_{end}", cells[f"pH_{end}"], faults)
        for end in ("at_least", "at_most")
        if cells.get(f"pH_{end}")
    }
    return _keys({**cells, "pH": pH and {**pH, "set": cells.get("pH_set") or "dosed"}})


def _keys(told: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is told as a brief has it; what is absent or empty is left out."""
    found = {name: told[name] for name in (*WORDS, "users", "on") if told.get(name)}
    if "on" in found:
        found["on"] = _day(found["on"])
    pH, waived = told.get("pH"), told.get("waive")
    if pH:
        ends = pH.items() if isinstance(pH, dict) else ()
        found["targets"] = {"pH": {name: end for name, end in ends if end is not None}}
    if waived:
        found["waive"] = [{"rule": name} for name in waived] if isinstance(waived, list) else waived
    return found


def _day(written: Any) -> Any:
    """Return a day that was written as a text; anything else as it is, to be refused with its name."""
    try:
        return date.fromisoformat(written)
    except (TypeError, ValueError):
        return written
