"""Reads a formula from a file: a table that somebody typed, or what the program wrote."""

from __future__ import annotations

from pathlib import Path

from optiform.faults import BadInput, Faults
from optiform.library.files.tables import row_of
from optiform.library.models import Library
from optiform.library.typed.formula_table import read_formula_table
from optiform.library.typed.saved_formula import read_saved_formula
from optiform.library.typed.typed_formula import TypedFormula

__all__ = ["TypedFormula", "read_formula"]


def read_formula(
    path: str | Path, library: Library, rank: int | None = None, batch_g: float | None = None
) -> TypedFormula:
    """Read a formula that somebody typed, or that the program wrote as CSV, workbook or JSON.

    Parameters
    ----------
    path : str or Path
        A table with a column ``material``, ``ingredient``, ``name`` or ``INCI`` and a column ``percent``, ``%`` or
        ``grams``, ``g``; columns apart by commas, semicolons or tabs. ``q.s.`` in one line of percents means the
        rest to 100 %. A total off 100 is taken as it is. Or the JSON of an answer.
    rank : int, optional
        Which of several ranked formulas; the first where it is absent.
    batch_g : float, optional  [g]
        Where an answer holds amounts weighable for this batch, those are read instead of the exact ones.

    Raises
    ------
    BadInput
        With every fault: names that no material or several have, amounts that are no number or below 0, more than
        one q.s., nothing left for it, a formula without lines, a rank that is not there.
    """
    path = Path(path)
    faults = Faults(str(path))
    if path.suffix.lower() == ".json":
        found = read_saved_formula(path, library, rank, batch_g, faults)
    else:
        found = read_formula_table(path, library, rank, faults)
    if faults.found or found is None:
        raise BadInput(sorted(faults.found, key=row_of))
    return found
