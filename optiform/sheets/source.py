"""Where the formula of a sheet comes from: a typed CSV, or one of the formulas of a saved answer."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optiform.faults import TOLD, BadInput, Fault, Faults, shown
from optiform.library.checking.names import Names
from optiform.library.files.opening import TABLE_BYTES, read_text
from optiform.library.formulas import TypedFormula, read_formula

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.library.models import Library

FULL_WITHIN = 0.005
"""A formula this near to a total of 100 % can be weighed."""
MASS = re.compile(r"\s*([0-9]*[.,]?[0-9]+)\s*(g|kg)?\s*", re.IGNORECASE)
MASSES = "a mass above 0 such as 2kg, 500g or 250"


def read_mass(text: str, place: str) -> float:
    """Return a mass in grams: "2kg", "2,5 kg", "500 g"; a bare number is grams.

    Raises
    ------
    BadInput
        For anything else; `place` is how the fault calls the option or key.
    """
    faults = Faults()
    found = mass_of(text, place, faults)
    faults.raise_if_any()
    assert found is not None
    return found


def mass_of(text: str, place: str, faults: Faults) -> float | None:
    """Return a mass in grams, or None after noting what is wrong with it."""
    match = MASS.fullmatch(text)
    grams = 0.0
    if match:
        number, unit = match.groups()
        grams = float(number.replace(",", ".")) * (1000.0 if (unit or "g").casefold() == "kg" else 1.0)
    if not 0 < grams <= 1e9:
        faults.add(place, f"'{text}' is no mass", allowed=MASSES)
        return None
    return grams


def read_weighable_formula(
    path: str | Path, library: Library, rank: int | None = None, batch_g: float | None = None
) -> TypedFormula:
    """Read a formula that is to be made; it must add up to 100 %.

    Parameters
    ----------
    path : str or Path
        A formula CSV or workbook, or the JSON of an answer with ranked formulas.
    library : Library
    rank : int, optional
        Which formula of an answer; the first where it is absent. A typed formula has none.
    batch_g : float, optional  [g]
        Where an answer holds amounts weighable for this batch, those are read instead of the exact ones.

    Raises
    ------
    BadInput
        Everything wrong with the file, or a total off 100 by more than 0.005.
    """
    path = Path(path)
    if path.suffix.lower() == ".json":
        typed = _from_answer(path, library, rank or 1, batch_g)
    elif rank is None:
        typed = read_formula(path, library)
    else:
        message = f"rank {rank} of a file that holds one formula"
        raise BadInput([Fault(str(path), "rank", message, "the JSON of an answer, or no rank")])
    if abs(typed.total - 100.0) > FULL_WITHIN:
        faults = Faults(str(path))
        faults.add(
            "total",
            f"the lines add up to {round(typed.total, 4):.10g} %",
            allowed=f"100 within {FULL_WITHIN:g}; write q.s. for the water and it takes the rest",
        )
        faults.raise_if_any()
    return typed


def _from_answer(path: Path, library: Library, rank: int, batch_g: float | None) -> TypedFormula:
    faults = Faults(str(path))
    answer = _json(path, faults)
    faults.raise_if_any()
    formulas = answer.get("formulas") if isinstance(answer, dict) else None
    if not isinstance(formulas, list) or not all(isinstance(entry, dict) for entry in formulas):
        faults.add(
            "formulas",
            "no list of formulas here",
            allowed="a JSON file written by design, check, evaluate, reformulate, weigh or why",
        )
        faults.raise_if_any()
        formulas = []
    chosen = next((entry for entry in formulas if entry.get("rank") == rank), None)
    if chosen is None:
        ranks = (
            ", ".join(shown(entry.get("rank")) for entry in formulas[:TOLD])
            or "none: the answer holds no formula"
        )
        faults.add("rank", f"there is no formula {rank}", allowed=ranks)
        faults.raise_if_any()
        chosen = {}
    weighed = _weighed(chosen, batch_g)
    lines = _lines(weighed or chosen, library, rank, faults)
    faults.raise_if_any()
    return TypedFormula(
        name=_title(answer, path, rank),
        lines=tuple(lines.items()),
        total=math.fsum(lines.values()),
        file=str(path),
        notes=(f"The amounts are those that the answer found weighable for {batch_g:g} g.",)
        if weighed
        else (),
    )


def _weighed(formula: Mapping[str, Any], batch_g: float | None) -> Mapping[str, Any] | None:
    """Return the weighable version of a formula where it was made for this batch, without stock solutions."""
    version = formula.get("weighable")
    if not isinstance(version, dict) or batch_g is None or version.get("batch_g") != batch_g:
        return None
    lines = version.get("lines")
    if not isinstance(lines, list) or any(isinstance(line, dict) and line.get("solution") for line in lines):
        return None
    return version


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


def _title(answer: Mapping[str, Any], path: Path, rank: int) -> str:
    brief = answer.get("brief")
    title = brief.get("title") if isinstance(brief, dict) else None
    return f"{title if isinstance(title, str) and title else path.stem}, formula {rank}"


def _lines(formula: Mapping[str, Any], library: Library, rank: int, faults: Faults) -> dict[str, float]:
    """Return % w/w by material id, noting every line that cannot be read."""
    known = Names(library.material)
    found: dict[str, float] = {}
    written = formula.get("lines")
    if not isinstance(written, list) or not written:
        faults.add(f"formula {rank}, lines", "no lines here", allowed="material and percent in each line")
        return found
    for number, line in enumerate(written, 1):
        place = f"formula {rank}, line {number}"
        name = line.get("material") if isinstance(line, dict) else None
        percent = line.get("percent") if isinstance(line, dict) else None
        if not isinstance(name, str) or name not in known:
            near = known.nearest(name) if isinstance(name, str) else ""
            faults.add(f"{place}, material", f"there is no material '{name}' in the library", nearest=near)
        elif isinstance(percent, bool) or not isinstance(percent, int | float) or not 0 <= percent <= 100:
            faults.add(
                f"{place}, percent", f"{shown(percent)} is no amount", allowed="a number from 0 to 100"
            )
        else:
            found[name] = found.get(name, 0.0) + float(percent)
    return found
