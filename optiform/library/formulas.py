"""A formula as somebody typed it or the program wrote it: read tolerantly, judged strictly elsewhere."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from optiform.faults import BadInput, Faults
from optiform.library.files.tables import row_of
from optiform.library.models import Library
from optiform.library.typed.formula_table import FormulaLines, read_formula_table
from optiform.library.typed.matching import Match
from optiform.library.typed.saved_formula import read_saved_formula
from optiform.mappings import FrozenDict, FrozenMap


@dataclass(frozen=True)
class TypedFormula:
    """A formula as typed, in % w/w.

    Attributes
    ----------
    name : str
        The file's name without its ending, or the title of the answer that holds it.
    file : str
        The file as the user named it; empty for a formula built in memory.
    lines : tuple of (str, float)
        Material id and % w/w, in the order of the file, each material once.
    total : float
        Sum of the lines [% w/w]; 100 only where the file says so.
    grams : float, optional
        Mass of the batch [g], where the file gives grams.
    notes : tuple of str
        What was understood rather than read: names, merged lines, the rest taken as q.s.
    matched : tuple of Match
        What the names that are no ids were taken for.
    rank : int, optional
        Which formula of several in the file it is.
    stated : mapping
        Keys of a brief that an answer states beside its formula: law, product, area, users, day, pH, waived guards.
    """

    name: str
    lines: tuple[tuple[str, float], ...]
    total: float
    file: str = ""
    grams: float | None = None
    notes: tuple[str, ...] = ()
    matched: tuple[Match, ...] = ()
    rank: int | None = None
    stated: FrozenMap[str, Any] = field(default_factory=FrozenDict)

    @property
    def amounts(self) -> dict[str, float]:
        """Return % w/w by material id."""
        return dict(self.lines)


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
        saved = read_saved_formula(path, library, rank, batch_g, faults)
        found, name = (saved.lines, saved.title or path.stem) if saved is not None else (None, path.stem)
    else:
        found, name = read_formula_table(path, library, rank, faults), path.stem
        if found is not None and found.rank is not None:
            name = f"{name}, formula {found.rank}"
    if faults.found or found is None:
        raise BadInput(sorted(faults.found, key=row_of))
    return _typed(found, name, path)


def _typed(found: FormulaLines, name: str, path: Path) -> TypedFormula:
    return TypedFormula(
        name,
        found.lines,
        found.total,
        str(path),
        found.grams,
        found.notes,
        found.matched,
        found.rank,
        FrozenDict(found.stated),
    )
