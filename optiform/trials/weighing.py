"""Turns a typed formula into the grams of a trial."""

from __future__ import annotations

from optiform.faults import BadInput, Fault
from optiform.library.formulas import TypedFormula

OFF = 0.005
"""A formula whose percents miss 100 by more than this does not add up  [% w/w]."""

USUAL_G = 100.0


def grams_of(formula: TypedFormula, batch_g: float | None = None) -> tuple[tuple[str, float], ...]:
    """Return the grams of each material: those of the file, or its percents of a batch (100 g where none is named).

    Raises
    ------
    BadInput
        Percents that do not add up to 100; a batch beside grams.
    """
    if formula.grams is None and abs(formula.total - 100.0) > OFF:
        message = f"the percents add up to {formula.total:.4g}, not to 100"
        raise BadInput([Fault(formula.file, "", message, "100 within 0.005; or grams, as they were weighed")])
    if formula.grams is not None and batch_g is not None:
        raise BadInput([Fault("", "--batch", "the formula is in grams already", "--batch for percents only")])
    whole = formula.grams if formula.grams is not None else (batch_g or USUAL_G)
    return tuple((name, percent * whole / formula.total) for name, percent in formula.lines if percent > 0)
