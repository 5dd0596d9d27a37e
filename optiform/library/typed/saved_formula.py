"""Reads a formula from a JSON document that the program wrote."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from optiform.faults import TOLD, Faults, shown
from optiform.library.checking.names import Names
from optiform.library.files.opening import TABLE_BYTES, read_text
from optiform.library.models import Library
from optiform.library.typed.stated_keys import stated_by
from optiform.library.typed.typed_formula import TypedFormula
from optiform.mappings import FrozenDict

CURVE = "the answer of design to the brief with the bound that you chose"
WANTED = "a JSON file written by design, check, evaluate, reformulate, weigh, why, swap, lot, bench or sheet"


def read_saved_formula(
    path: Path, library: Library, rank: int | None, batch_g: float | None, faults: Faults
) -> TypedFormula | None:
    """Return one formula of a document, or None after noting why there is none; see `read_formula`."""
    document = _json(path, faults)
    if faults.found:
        return None
    chosen = _chosen(document, rank, faults)
    if chosen is None:
        return None
    weighed = _weighed(chosen, batch_g)
    found = _lines(weighed or chosen, library, faults)
    if faults.found:
        return None
    told = (f"The amounts are those that the answer found weighable for {batch_g:g} g.",) if weighed else ()
    title, place = _title(document), chosen.get("rank")
    alone = place is None or len(document["formulas"]) == 1
    return TypedFormula(
        name=(title if alone or not title else f"{title}, formula {place}") or path.stem,
        lines=tuple(found.items()),
        total=math.fsum(found.values()),
        file=str(path),
        notes=told,
        rank=place,
        stated=FrozenDict(stated_by(document)),
    )


def _chosen(document: Any, rank: int | None, faults: Faults) -> Mapping[str, Any] | None:
    """Return the formula with this rank, or the one that the document is about."""
    held: Mapping[str, Any] = document if isinstance(document, dict) else {}
    formulas = held.get("formulas")
    if formulas is None:
        one = _only(held)
        if one is None and "curves" in held:
            message = "a trade-off holds a curve of formulas, and none of them is chosen"
            faults.add("curves", message, allowed=CURVE)
        elif one is None:
            faults.add("formulas", "no formulas here", allowed=WANTED)
        elif rank is not None:
            message = f"rank {rank} of a file that holds one formula"
            faults.add("rank", message, allowed="a file of ranked formulas, or no rank")
        return one
    if not isinstance(formulas, list) or not all(isinstance(entry, dict) for entry in formulas):
        faults.add("formulas", "no list of formulas here", allowed=WANTED)
        return None
    wanted = 1 if rank is None else rank
    chosen = next((entry for entry in formulas if entry.get("rank") == wanted), None)
    if chosen is None:
        ranks = ", ".join(shown(entry.get("rank")) for entry in formulas[:TOLD])
        allowed = ranks or "none: the answer holds no formula"
        faults.add("rank", f"there is no formula {wanted}", allowed=allowed)
    return chosen


def _only(document: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Return the one formula of a document without ranks: its lines, or those of a sheet's batch."""
    if "lines" in document:
        return {"lines": document["lines"]}
    held: Any = document
    for key in ("sheet", "batch", "batch"):
        held = held.get(key) if isinstance(held, dict) else None
    return {"lines": held["lines"]} if isinstance(held, dict) and "lines" in held else None


def _weighed(formula: Mapping[str, Any], batch_g: float | None) -> Mapping[str, Any] | None:
    """Return the weighable version of a formula where it was made for this batch, without stock solutions."""
    version = formula.get("weighable")
    if not isinstance(version, dict) or batch_g is None or version.get("batch_g") != batch_g:
        return None
    lines = version.get("lines")
    if not isinstance(lines, list) or any(isinstance(line, dict) and line.get("solution") for line in lines):
        return None
    return {**version, "rank": formula["rank"]}


def _json(path: Path, faults: Faults) -> Any:
    wanted = "a JSON file in UTF-8"
    text = read_text(path, faults, most=TABLE_BYTES, allowed=wanted)
    if text is None:
        return None
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        faults.add("", f"not valid JSON: {error}", allowed=wanted)
    except (ValueError, RecursionError):
        faults.add("", "not valid JSON: nested too deeply, or a number of too many digits", allowed=wanted)
    return None


def _title(document: Mapping[str, Any]) -> str:
    for name in ("brief", "sheet"):
        held = document.get(name)
        title = held.get("title") if isinstance(held, dict) else None
        if isinstance(title, str) and title:
            return title
    return ""


def _lines(formula: Mapping[str, Any], library: Library, faults: Faults) -> dict[str, float]:
    """Return % w/w by material id, noting every line that cannot be read."""
    known = Names(library.material)
    found: dict[str, float] = {}
    head = f"formula {formula['rank']}, " if "rank" in formula else ""
    written = formula.get("lines")
    if not isinstance(written, list) or not written:
        faults.add(f"{head}lines", "no lines here", allowed="material and percent in each line")
        return found
    for number, line in enumerate(written, 1):
        place = f"{head}line {number}"
        name = line.get("material") if isinstance(line, dict) else None
        percent = line.get("percent") if isinstance(line, dict) else None
        if not isinstance(name, str) or name not in known:
            near = known.nearest(name) if isinstance(name, str) else ""
            faults.add(f"{place}, material", f"there is no material '{name}' in the library", nearest=near)
        elif isinstance(percent, bool) or not isinstance(percent, int | float) or not 0 <= percent <= 100:
            message = f"{shown(percent)} is no amount"
            faults.add(f"{place}, percent", message, allowed="a number from 0 to 100")
        else:
            found[name] = found.get(name, 0.0) + float(percent)
    return found
