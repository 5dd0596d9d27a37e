"""One brief or formula at the old prices and at the new ones: what changes, what it saves, what breaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from optiform.answers.describe import structure_of
from optiform.answers.polish import Polished, polish, ties_of
from optiform.answers.prepare import ground
from optiform.answers.rank import Candidate, rank
from optiform.brief.models import Brief
from optiform.faults import BadInput, InternalError
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.library.overrides import with_prices
from optiform.program import build

Outcome = Literal["kept", "changed", "broken", "freed", "impossible", "fault"]
SHOWN = 5e-4
"""A material's change of amount worth naming, % w/w."""


@dataclass(frozen=True)
class Task:
    """One file of a folder, without its library, ready to be sent to a worker.

    Attributes
    ----------
    key : str
        What the result depends on, hashed: the file, its library, the prices, the program's version.
    library : str
        Which of the shared libraries it draws on; prices still the old ones.
    brief, formula
        One of the two; the brief carries no library.
    """

    key: str
    name: str
    library: str
    brief: Brief | None = None
    formula: TypedFormula | None = None


@dataclass(frozen=True)
class Recosted:
    """What a price list does to one product.

    Attributes
    ----------
    outcome : str
        kept (the same structure stays best), changed (another one is best), broken (possible at the
        old prices, not at the new), freed (the reverse), impossible (at both), fault (not readable).
    cost_before, cost_same, cost_after : float, optional  [currency/kg]
        The best formula at the old prices; that same formula at the new prices; the best at the new.
    saving : float, optional  [currency/kg]
        What solving again saves against keeping the old formula.
    structure_before, structure_after : tuple of str
        What makes the two formulas different, where they are.
    changes : tuple of (material id, % w/w before, % w/w after)
    faults : tuple of str
        Why the file could not be read, or what went wrong with it.
    """

    key: str
    name: str
    kind: Literal["brief", "formula"]
    outcome: Outcome
    title: str = ""
    currency: str = ""
    cost_before: float | None = None
    cost_same: float | None = None
    cost_after: float | None = None
    saving: float | None = None
    structure_before: tuple[str, ...] = ()
    structure_after: tuple[str, ...] = ()
    changes: tuple[tuple[str, float, float], ...] = ()
    faults: tuple[str, ...] = ()


def recost_one(task: Task, library: Library, prices: Mapping[str, float]) -> Recosted:
    """Solve one brief, or price one formula, at the old prices and at the new ones.

    Whatever goes wrong with it becomes its result: one bad file never stops the rest.

    Parameters
    ----------
    task : Task
    library : Library
        At the old prices.
    prices : mapping of str to float  [currency/kg]
        New prices; materials that the library lacks are passed over.
    """
    try:
        dearer = with_prices(
            library, {name: price for name, price in prices.items() if name in library.material}
        )
        if task.formula is not None:
            return _formula(task, task.formula, library, dearer)
        assert task.brief is not None
        return _brief(task, task.brief, library, dearer)
    except (BadInput, InternalError, ValueError, ArithmeticError) as error:
        kind: Literal["brief", "formula"] = "formula" if task.formula is not None else "brief"
        return Recosted(task.key, task.name, kind, "fault", faults=tuple(str(error).splitlines()))


def _formula(task: Task, formula: TypedFormula, library: Library, dearer: Library) -> Recosted:
    amounts = library.arrays.amounts(formula.lines)
    before, same = (float(held.arrays.price @ amounts) / 100.0 for held in (library, dearer))
    return Recosted(
        task.key, task.name, "formula", "kept", formula.name, library.currency, before, same, same, 0.0
    )


def _brief(task: Task, brief: Brief, library: Library, dearer: Library) -> Recosted:
    old = _best(brief.model_copy(update={"library": library}))
    new = _best(brief.model_copy(update={"library": dearer}))
    about = Recosted(task.key, task.name, "brief", "impossible", brief.title, library.currency)
    before = None if old is None else _cost(old, library)
    same = None if old is None else _cost(old, dearer)
    after = None if new is None else _cost(new, dearer)
    if old is None or new is None:
        outcome: Outcome = "impossible" if old is new else "freed" if old is None else "broken"
        return replace(about, outcome=outcome, cost_before=before, cost_same=same, cost_after=after)
    structures = tuple(structure_of(found.program, found.values) for found in (old, new))
    return replace(
        about,
        outcome="kept" if structures[0] == structures[1] else "changed",
        cost_before=before,
        cost_same=same,
        cost_after=after,
        saving=None if same is None or after is None else same - after,
        structure_before=structures[0],
        structure_after=structures[1],
        changes=_changes(old, new),
    )


def _best(brief: Brief) -> Polished | None:
    """Return the formula that a design would list first, or None where there is none."""
    found = ground(build(brief))
    then, tie = ties_of(found.program, brief.aim.then), brief.aim.tie
    first = next(iter(rank(found.program, 1, then, tie, None, found.session, found.first)))
    return polish(found.program, first.values, then, tie) if isinstance(first, Candidate) else None


def _cost(found: Polished, library: Library) -> float:
    return float(library.arrays.price @ found.amounts) / 100.0


def _changes(old: Polished, new: Polished) -> tuple[tuple[str, float, float], ...]:
    """Return the materials whose amounts differ, the largest difference first."""
    difference = np.abs(new.amounts - old.amounts)
    order = [int(i) for i in np.argsort(-difference, kind="stable") if difference[i] > SHOWN]
    names = old.program.library.arrays.materials
    return tuple((names[i], float(old.amounts[i]), float(new.amounts[i])) for i in order)
