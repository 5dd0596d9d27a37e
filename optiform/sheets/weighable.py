"""Reads a formula to be weighed, and refuses one that does not add up to 100 %."""

from __future__ import annotations

from pathlib import Path

from optiform.answers.evaluate.typed_formula import FULL_WITHIN
from optiform.faults import BadInput, Fault
from optiform.library.formulas import TypedFormula, read_formula
from optiform.library.models import Library


def read_weighable_formula(
    path: str | Path, library: Library, rank: int | None = None, batch_g: float | None = None
) -> TypedFormula:
    """Read a formula that is to be weighed; see `read_formula`.

    Raises
    ------
    BadInput
        Everything wrong with the file, or a total off 100 by more than 0.005.
    """
    typed = read_formula(path, library, rank, batch_g)
    refuse_total(typed, "; write q.s. for the water and it takes the rest")
    return typed


def refuse_total(formula: TypedFormula, hint: str = "") -> None:
    """Refuse a formula that does not add up to 100 %.

    Raises
    ------
    BadInput
        If its total is off by more than 0.005.
    """
    if abs(formula.total - 100.0) > FULL_WITHIN:
        message = f"the lines add up to {round(formula.total, 4):.10g} %"
        raise BadInput([Fault(formula.file, "total", message, f"100 within {FULL_WITHIN:g}{hint}")])
