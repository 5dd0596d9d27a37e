"""The formula of a sheet: one that can be made, because it adds up to 100 %."""

from __future__ import annotations

from pathlib import Path

from optiform.answers.evaluate.typed_formula import FULL_WITHIN
from optiform.faults import BadInput, Fault
from optiform.library.formulas import TypedFormula, read_formula
from optiform.library.models import Library


def read_weighable_formula(
    path: str | Path, library: Library, rank: int | None = None, batch_g: float | None = None
) -> TypedFormula:
    """Read a formula that is to be made; see `read_formula`.

    Raises
    ------
    BadInput
        Everything wrong with the file, or a total off 100 by more than 0.005.
    """
    typed = read_formula(path, library, rank, batch_g)
    if abs(typed.total - 100.0) > FULL_WITHIN:
        message = f"the lines add up to {round(typed.total, 4):.10g} %"
        allowed = f"100 within {FULL_WITHIN:g}; write q.s. for the water and it takes the rest"
        raise BadInput([Fault(str(path), "total", message, allowed)])
    return typed
