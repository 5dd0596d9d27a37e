"""Reads masses as people write them: "2kg", "2,5 kg", "500 g"."""

from __future__ import annotations

import re

from optiform.faults import BadInput, Fault, Faults
from optiform.library.files.columns import two_readings
from optiform.tolerances import SMALLEST_TYPED

MASS = re.compile(r"\s*([0-9]*[.,]?[0-9]+)\s*(mg|g|kg)?\s*", re.IGNORECASE)
MASSES = "a mass above 0 with its unit, such as 2kg or 500g"
GRAMS_IN = {"mg": 0.001, "g": 1.0, "kg": 1000.0}
MOST_MASS = 1e9
MOST_STEP = 1000.0
"""The coarsest step of a balance [g]."""


def read_mass(text: str, place: str) -> float:
    """Return a mass in grams; `place` is how a fault calls the option or key.

    Raises
    ------
    BadInput
        For anything else; also for a bare number that could be grams as well as kilograms.
    """
    faults = Faults()
    found = mass_of(text, place, faults)
    faults.raise_if_any()
    assert found is not None
    return found


def read_balance(text: str) -> float:
    """Return the step that a balance shows, in grams.

    Raises
    ------
    BadInput
        For what is no mass with its unit, or no step of a balance.
    """
    step = read_mass(text, "--balance")
    if not SMALLEST_TYPED <= step <= MOST_STEP:
        raise BadInput([Fault("", "--balance", f"{step:g} g", f"{SMALLEST_TYPED:g} to {MOST_STEP:g} g")])
    return step


def mass_of(text: str, place: str, faults: Faults) -> float | None:
    """Return a mass in grams, or None after noting what is wrong."""
    match = MASS.fullmatch(text)
    number, unit = match.groups() if match else ("0", None)
    either = two_readings(number)
    if either is not None:
        message = f"'{text}' could be {' or '.join(either)}"
        faults.add(place, message, allowed="decimals by '.', no mark for thousands")
        return None
    grams = float(number.replace(",", ".")) * GRAMS_IN[(unit or "g").casefold()]
    if not 0 < grams <= MOST_MASS:
        faults.add(place, f"'{text}' is no mass", allowed=MASSES)
    elif unit is None:
        message = f"'{text}' could be grams or kilograms"
        faults.add(place, message, allowed=f"{number}g or {number}kg")
    else:
        return grams
    return None
