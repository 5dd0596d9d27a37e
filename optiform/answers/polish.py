"""The exact formula of a structure: choices fixed, bounds held exactly, water by difference, verified."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.rank import lexicographic
from optiform.faults import InternalError
from optiform.measures.acidity import charge_curves
from optiform.program import TOLERANCE, Program, Reduced, at_strength, breaks, reduce
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.library.arrays import Floats

Ties = tuple[tuple["Floats", "Floats | None"], ...]
ROUNDS = 12
SAME_STRENGTH = 1e-9
NOTHING = 1e-9


@dataclass(frozen=True, eq=False)
class Polished:
    """The best formula of one structure, at its own ionic strength.

    Attributes
    ----------
    program : Program
        At the formula's own ionic strength.
    reduced : Reduced
        What is left of it with the choices fixed; the ground for every what-if on this formula.
    values : ndarray, shape (columns,)
    amounts : ndarray, shape (n,)  [% w/w]
    objective : float
        The aim, signed so that less is better.
    """

    program: Program = field(repr=False)
    reduced: Reduced = field(repr=False)
    values: Floats = field(repr=False)
    objective: float

    @property
    def amounts(self) -> Floats:
        """Return the % w/w of each material, shape (n,)."""
        return self.values[: self.program.size]


def polish(
    program: Program, values: Floats, then: Ties = (), tie: float = 0.0, best: float | None = None
) -> Polished | None:
    """Solve a structure again as a continuous program, at its own ionic strength.

    Parameters
    ----------
    program : Program
    values : ndarray, shape (columns,)
        A solution whose choices are kept.
    then, tie
        Tie-breaks as in `rank`.
    best : float, optional
        The best aim from which the allowance of the tie-breaks counts; by default the structure's own.

    Returns
    -------
    Polished or None
        None where the structure cannot hold its pH window at its own ionic strength.

    Raises
    ------
    InternalError
        If the formula does not hold what the program asks, recomputed from our own arrays.
    """
    if then and best is not None:
        tie = _room(program, values, best + tie, tie)
    found = _solved(program, values, then, tie)
    for _ in range(ROUNDS):
        if found is None or not program.acid_rows:
            break
        strength = _strength(found)
        if abs(strength - program.catalogue.conditions.ionic_strength) < SAME_STRENGTH:
            break
        program = at_strength(program, strength)
        found = _solved(program, values, then, tie)
    if found is not None:
        verify(found.program, found.values)
    return found


def _room(program: Program, values: Floats, ceiling: float, tie: float) -> float:
    """Return how much of an allowance is left to a structure whose own best lies under a ceiling."""
    own = _solved(program, values, (), 0.0)
    return 0.0 if own is None else min(tie, max(0.0, ceiling - own.objective))


def _solved(program: Program, values: Floats, then: Ties, tie: float) -> Polished | None:
    """Solve with the choices fixed: bounds exact, or within the tolerance where no exact solution exists."""
    for slack in (0.0, 0.5 * TOLERANCE):
        reduced = reduce(program, values, slack)
        free = reduced.free
        ties = [(objective[free], None if base is None else base[free]) for objective, base in then]
        session = Session(reduced.form)
        denominator = None if program.ratio_aim is None else program.ratio_aim[free]
        outcome = lexicographic(session, reduced.form.objective, denominator, ties, tie)
        if outcome.values is not None:
            whole = cleaned(program, reduced.full(outcome.values))
            return Polished(program, reduced, whole, objective_of(program, whole))
    return None


def objective_of(program: Program, values: Floats) -> float:
    """Return the aim of column values, signed so that less is better."""
    top = float(program.form.objective @ values)
    return top if program.ratio_aim is None else top / float(program.ratio_aim @ values)


def ordered(polished: Sequence[Polished], then: Ties, tie: float) -> list[int]:
    """Return the positions of formulas from the best on, ties broken as the brief says.

    Formulas come in the order of the ranking; their own ionic strengths may have moved their aims.
    """
    if not any(found.program.acid_rows for found in polished):
        return list(range(len(polished)))
    left, order = list(range(len(polished))), []
    while left:
        near = left
        for values in (_aims(polished), *(_ties(polished, top, base) for top, base in then)):
            least = min(values[k] for k in near)
            near = [k for k in near if values[k] <= least + (tie if then else 0.0)]
        order.append(near[0])
        left.remove(near[0])
    return order


def _aims(polished: Sequence[Polished]) -> list[float]:
    return [found.objective for found in polished]


def _ties(polished: Sequence[Polished], top: Floats, base: Floats | None) -> list[float]:
    values = [float(top @ found.values) for found in polished]
    if base is None:
        return values
    return [value / float(base @ found.values) for value, found in zip(values, polished, strict=True)]


def cleaned(program: Program, values: Floats) -> Floats:
    """Return column values without the solver's dust, water taken by difference."""
    values = values.copy()
    amounts = values[: program.size]
    amounts[amounts < NOTHING] = 0.0
    water = program.library.arrays.material_index[program.library.water.id]
    amounts[water] = 0.0
    amounts[water] = 100.0 - float(np.sum(amounts))
    if -NOTHING * 100 < amounts[water] < NOTHING:
        amounts[water] = 0.0
    return values


def verify(program: Program, values: Floats) -> None:
    """Recompute every row from our own arrays; an answer that fails is an internal error, never a formula.

    Raises
    ------
    InternalError
        Naming the requirements that do not hold.
    """
    broken = breaks(program, values)
    if broken:
        names = "; ".join(f"{item.requirement.title} (off by {item.by:.3g})" for item in broken)
        raise InternalError(f"the solver's formula does not hold: {names}")


def _strength(found: Polished) -> float:
    settled = charge_curves(found.program.library).settle(found.amounts)
    return found.program.catalogue.conditions.ionic_strength if settled is None else settled.ionic_strength


def ties_of(program: Program, names: Sequence[str]) -> Ties:
    """Return the tie-breaks of a brief as objectives over all columns, each to be minimised."""
    from optiform.measures.amounts import Count

    found: list[tuple[Floats, Floats | None]] = []
    for name in names:
        measure = program.catalogue.find(name)
        sign = -1.0 if measure.better == "higher" else 1.0
        columns = np.zeros(program.form.columns)
        if isinstance(measure, Count):
            for choices in program.uses:
                columns[choices] += 1.0
            found.append((columns, None))
            continue
        columns[: program.size] = sign * measure.numerator
        base = None
        if measure.denominator is not None:
            base = np.zeros(program.form.columns)
            base[: program.size] = measure.denominator
        found.append((columns, base))
    return tuple(found)
