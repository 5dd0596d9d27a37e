"""Checks an installation: versions, known programs solved again, and the data that came with it."""

from __future__ import annotations

import platform
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import metadata

import numpy as np

from optiform.faults import BadInput, InternalError
from optiform.program.program import Form
from optiform.tolerances import CLEAR

PARTS = ("highspy", "jinja2", "numpy", "openpyxl", "pandas", "pulp", "pydantic", "typer")


@dataclass(frozen=True)
class SelfTest:
    """One test: whether it passed, and what was seen."""

    name: str
    passed: bool
    told: str


@dataclass(frozen=True)
class Diagnosis:
    """What the doctor found.

    Attributes
    ----------
    versions : mapping of str to str
        The program, Python, the platform and every package that it stands on.
    """

    versions: Mapping[str, str]
    tests: tuple[SelfTest, ...]

    @property
    def healthy(self) -> bool:
        """Tell whether every test passed."""
        return all(test.passed for test in self.tests)


def diagnose() -> Diagnosis:
    """Return the versions of everything, and the outcome of every self-test.

    Notes
    -----
    A test that ends in an exception has failed; the exception is what was seen.
    """
    tests = (
        ("solver, continuous", _glass_works),
        ("solver, whole numbers", _four_projects),
        ("starter library", _starter_library),
        ("legal limits", _law),
    )
    return Diagnosis(versions(), tuple(_tried(name, test) for name, test in tests))


def versions() -> dict[str, str]:
    """Return the version of the program, of Python, and of each package that it stands on."""
    found = {
        "optiform": version_of("optiform"),
        "python": platform.python_version(),
        "platform": platform.platform(),
    }
    return {**found, **{part: version_of(part) for part in PARTS}}


def version_of(package: str) -> str:
    """Return the version of an installed package."""
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "not installed"


def _tried(name: str, test: Callable[[], str]) -> SelfTest:
    try:
        return SelfTest(name, True, test())
    except (BadInput, InternalError) as fault:
        return SelfTest(name, False, str(fault))
    except Exception as error:  # a broken installation may raise anything
        return SelfTest(name, False, f"{type(error).__name__}: {error}")


def _glass_works() -> str:
    """Solve the three-plant product mix: 2 and 6 batches, 36 in all, shadow prices 0, 1.5 and 1.

    Source: F. S. Hillier and G. J. Lieberman, Introduction to Operations Research, chapter 3
    (prototype example) and its shadow prices in chapter 4.
    """
    from optiform.solver import Session

    form = _form([[1.0, 0.0], [0.0, 2.0], [3.0, 2.0]], [4.0, 12.0, 18.0], [-3.0, -5.0], whole=False)
    outcome = Session(form).solve()
    if outcome.values is None or outcome.row_dual is None:
        raise InternalError(f"the solver said {outcome.status}")
    _compare("solution", outcome.values, [2.0, 6.0])
    _compare("shadow prices", -outcome.row_dual, [0.0, 1.5, 1.0])
    return "a textbook product mix: profit 36, shadow prices 0, 1.5 and 1, as printed"


def _four_projects() -> str:
    """Solve the choice among four yes-or-no investments: the first two, worth 14.

    Source: F. S. Hillier and G. J. Lieberman, Introduction to Operations Research, chapter on
    integer programming (prototype example).
    """
    from optiform.solver import Session

    rows = [[6.0, 3.0, 5.0, 2.0], [0.0, 0.0, 1.0, 1.0], [-1.0, 0.0, 1.0, 0.0], [0.0, -1.0, 0.0, 1.0]]
    form = _form(rows, [10.0, 1.0, 0.0, 0.0], [-9.0, -5.0, -6.0, -4.0], whole=True)
    outcome = Session(form).solve()
    if outcome.values is None:
        raise InternalError(f"the solver said {outcome.status}")
    _compare("choice", outcome.values, [1.0, 1.0, 0.0, 0.0])
    _compare("bound", [outcome.bound], [-14.0])
    return "a textbook choice of investments: value 14, proven, as printed"


def _form(rows: list[list[float]], upper: list[float], objective: list[float], *, whole: bool) -> Form:
    from optiform.program.program import Form

    matrix = np.array(rows)
    size = matrix.shape[1]
    kept = [np.flatnonzero(row) for row in matrix]
    return Form(
        lower=np.zeros(size),
        upper=np.full(size, 1.0 if whole else 100.0),
        integer=np.full(size, whole),
        objective=np.array(objective),
        starts=np.concatenate(([0], np.cumsum([len(columns) for columns in kept]))).astype(np.intp),
        indices=np.concatenate(kept).astype(np.intp),
        values=np.concatenate([row[columns] for row, columns in zip(matrix, kept, strict=True)]),
        row_lower=np.full(len(rows), -np.inf),
        row_upper=np.array(upper),
    )


def _compare(what: str, found: object, printed: list[float]) -> None:
    seen = np.asarray(found, dtype=float)
    if not np.allclose(seen, printed, rtol=0.0, atol=CLEAR):
        raise InternalError(f"{what}: {seen.tolist()} instead of {printed}")


def _starter_library() -> str:
    from optiform.library import load_library

    library = load_library()
    return f"{len(library.materials)} materials read without a fault"


def _law() -> str:
    from optiform.law import load_law
    from optiform.law.models import JURISDICTIONS

    counts = [f"{place} {len(load_law(place).limits)}" for place in JURISDICTIONS if place != "none"]
    return f"limits read: {', '.join(counts)}"
