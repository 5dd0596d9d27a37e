"""Reads what is expected of a measure before the first trial: values per 1 % of each material, with their spread."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

from pydantic import Field

from optiform.faults import Faults, nearest
from optiform.library.files.opening import is_file
from optiform.library.files.typed_tables import columns_of, read_entries
from optiform.library.models import MOST, Frozen, Library
from optiform.library.selection import parse_reference, reference_problem, select
from optiform.tolerances import SMALLEST_TYPED

FILE = "expected.csv"
READING, OTHER, SQUARED = "reading", "other", "electrolyte squared"
WORDS = (READING, OTHER, SQUARED)


class ExpectedRow(Frozen):
    """What is expected of one material, or of a kind of them, for one measure."""

    measure: str = Field(min_length=1, description="as in readings.csv; viscosity as log10 of mPa.s")
    of: str = Field(
        min_length=1, description="an id, function:, tag:, other, reading, or electrolyte squared"
    )
    value: float = Field(ge=-MOST, le=MOST, description="per 1 % w/w; of a reading, its standard deviation")
    spread: float | None = Field(
        default=None, ge=SMALLEST_TYPED, le=MOST, description="its standard deviation"
    )
    source: str = ""


@dataclass(frozen=True)
class Expected:
    """The lines of a library, and behind them those that come with the program.

    Attributes
    ----------
    rows : tuple of ExpectedRow
        The library's own first: they count before the others.
    own : int
        How many of them are the library's own.
    """

    rows: tuple[ExpectedRow, ...]
    own: int

    def noise(self, measure: str) -> float | None:
        """Return the usual standard deviation of one trial, or None where no line says it."""
        return next((row.value for row in self._of(measure) if row.of == READING), None)

    def covers(self, measure: str) -> bool:
        """Tell whether anything is expected of the materials for a measure."""
        return any(row.of not in (READING, SQUARED) for row in self._of(measure))

    def squared(self, measure: str) -> tuple[float, float] | None:
        """Return what is expected of the square of the electrolyte, value and spread."""
        found = next((row for row in self._of(measure) if row.of == SQUARED and row.spread), None)
        return None if found is None or found.spread is None else (found.value, found.spread)

    def material(self, measure: str, material: str, library: Library) -> tuple[float, float] | None:
        """Return value and spread per 1 % of a material: the line that names it, else its kind, else the others."""
        meant: dict[int, tuple[float, float]] = {}
        for row in self._of(measure):
            place = _closeness(row.of, material, library)
            if place is not None and row.spread is not None:
                meant.setdefault(place, (row.value, row.spread))
        return meant[min(meant)] if meant else None

    def _of(self, measure: str) -> Iterable[ExpectedRow]:
        return (row for row in self.rows if row.measure == measure)


def _closeness(of: str, material: str, library: Library) -> int | None:
    """Return 0 for a line that names a material, 1 for its kind, 2 for all others; None where it is not meant."""
    if of in (READING, SQUARED):
        return None
    if of == OTHER:
        return 2
    kind, word = parse_reference(of)
    if material not in select(library, kind, word).sure:
        return None
    return 0 if kind == "material" else 1


def expected(library: Library) -> Expected:
    """Return what a library expects, and what comes with the program where it says nothing.

    Raises
    ------
    BadInput
        If expected.csv beside the library's tables cannot be used.
    """
    folder = Path(library.folder)
    path = (folder if folder.suffix.lower() != ".xlsx" else folder.parent) / FILE
    own = _read(path, library) if library.folder and is_file(path) else ()
    return Expected((*own, *_shipped()), len(own))


@cache
def _shipped() -> tuple[ExpectedRow, ...]:
    with resources.as_file(resources.files("optiform.trials") / FILE) as path:
        return _read(path, None)


def _read(path: Path, library: Library | None) -> tuple[ExpectedRow, ...]:
    faults = Faults()
    entries = read_entries(path, ExpectedRow, columns_of("expected", ExpectedRow), faults)
    for i, row in enumerate(entries.items):
        if row.of in WORDS or library is None:
            continue
        problem = reference_problem(library, row.of)
        if problem is not None:
            file, place = entries.place(i, "of")
            near = problem.nearest or nearest(row.of, WORDS)
            faults.add(place, problem.message, allowed=problem.allowed, nearest=near, file=file)
        elif row.spread is None:
            file, place = entries.place(i, "spread")
            faults.add(place, "the cell is empty", allowed="a standard deviation above 0", file=file)
    faults.raise_if_any()
    return entries.items
