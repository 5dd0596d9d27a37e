"""Solves the exact formula of a structure: choices fixed, bounds held exactly, verified."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optiform.faults import InternalError
from optiform.measures.acidity import charge_curves
from optiform.program import Program, Reduced, at_strength, breaks, reduce
from optiform.program.judge import followed
from optiform.program.rows.preferences import filled, penalty, plain_objective, touching
from optiform.search.ranking import best as best_of
from optiform.search.ranking import lexicographic, value_of
from optiform.search.ties import cost_of, count_of, equals
from optiform.solver import Session
from optiform.tolerances import HALF, ROUNDING, STANDSTILL
from optiform.vectors import Floats

Ties = tuple[tuple["Floats", "Floats | None"], ...]
ROUNDS = 12
STEEP = -0.1
"""Slope of the asked change over the ionic strength from which on the secant is trusted; it is about -1."""


@dataclass(frozen=True, eq=False)
class Polished:
    """The best formula of one structure, at its own ionic strength.

    Attributes
    ----------
    program : Program
        At the formula's own ionic strength.
    values : ndarray, shape (columns,)
    amounts : ndarray, shape (n,)  [% w/w]
    objective : float
        The aim, signed so that less is better.
    slack : float
        How far its bounds are relaxed: not at all, or by the tolerance where no exact solution exists.
    """

    program: Program = field(repr=False)
    values: Floats = field(repr=False)
    objective: float
    slack: float = 0.0

    @cached_property
    def reduced(self) -> Reduced:
        """Return what is left of the program with the choices fixed: the ground for every what-if on this formula."""
        reduced = reduce(self.program, self.values, self.slack)
        objective = touching(self.program, self.values)[reduced.free]
        return replace(reduced, form=replace(reduced.form, objective=objective))

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
    for slack in (0.0, HALF):
        found = FixedChoices(program, values, then, slack).settled(tie, best)
        if found is not None:
            found = _at_highest_end(found, then, tie, best)
            verify(found.program, found.values)
            return found
    return None


def _at_highest_end(found: Polished, then: Ties, tie: float, best: float | None) -> Polished:
    """Return a formula as made for the highest pH that its uncharged acid allows, where the brief states none."""
    program = found.program
    values = followed(program, found.values.copy()) if program.upper_ends else found.values
    if same_choices(program, values, found.values):
        return found
    other = FixedChoices(program, values, then, found.slack).settled(tie, best)
    return other if other is not None and other.objective <= found.objective + ROUNDING else found


class FixedChoices:
    """A structure in a live session: the ionic strength of its pH rows moves in place until a formula confirms it.

    Parameters
    ----------
    program, values, then
        As for `polish`.
    slack : float
        How far bounds are relaxed: not at all, or by the tolerance where no exact solution exists.
    """

    def __init__(self, program: Program, values: Floats, then: Ties, slack: float) -> None:
        self.values = values
        self.reduced = reduce(program, values, slack)
        free = self.reduced.free
        self.session = Session(self.reduced.form, arrays=True)
        self.bounds: dict[int, float] = {}
        self.objective = self.reduced.form.objective
        self.denominator = None if program.ratio_aim is None else program.ratio_aim[free]
        self.then = [(objective[free], None if base is None else base[free]) for objective, base in then]
        cost = cost_of(program)
        self.cost = None if cost is None else cost[free]

    @contextmanager
    def moved(self, bounds: Mapping[int, float]) -> Iterator[bool]:
        """Hold requirements at other bounds for a while; False where the choices themselves miss one of them."""
        reduced, possible = self.reduced, True
        with self.session.trial() as session:
            for requirement, bound in bounds.items():
                for row, move in reduced.program.moves[requirement]:
                    content = reduced.row(move.row(bound, reduced.slack))
                    if row in reduced.row_position:
                        session.set_row(reduced.row_position[row], content)
                        self.bounds[row] = bound
                    elif not content.lower - ROUNDING <= 0.0 <= content.upper + ROUNDING:
                        possible = False
            yield possible
        self.bounds = {}

    def settled(self, tie: float, ceiling_from: float | None) -> Polished | None:
        """Return the best formula at its own ionic strength, the ground for what-ifs; None if there is none."""
        found = self.best(tie, ceiling_from)
        if found is None:
            return None
        program, whole = found
        return Polished(program, whole, objective_of(program, whole), self.reduced.slack)

    def best(self, tie: float = 0.0, ceiling_from: float | None = None) -> tuple[Program, Floats] | None:
        """Return the best formula as column values, and the program at its own ionic strength; None if there is none.

        `ceiling_from` is the best aim of all structures: what is left of the allowance `tie` beyond
        it is what a tie-break may spend here.
        """
        if self.then and ceiling_from is not None:
            self._touch()
            own = best_of(self.session, self.objective, self.denominator)
            tie = min(tie, max(0.0, ceiling_from + tie - own.objective)) if own.found else 0.0
        found = self.confirmed(tie)
        return None if found is None else (at_strength(self.reduced.program, found[0]), found[1])

    def confirmed(self, tie: float = 0.0) -> tuple[float, Floats] | None:
        """Return the best formula's own ionic strength and its column values; None if there is none."""
        program = self.reduced.program
        strength = program.catalogue.conditions.ionic_strength
        if program.acid_rows:
            strength = self._confirmed(self.values[: program.size], strength)
            self._move(strength)
        whole = self._solved(tie)
        steps: list[tuple[float, float]] = []
        while program.acid_rows and whole is not None and len(steps) < ROUNDS:
            change = self._confirmed(whole[: program.size], strength) - strength
            if abs(change) < ROUNDING:
                break
            steps.append((strength, change))
            strength = _next(steps)
            self._move(strength)
            whole = self._solved(tie)
        return None if whole is None else (strength, whole)

    def _solved(self, tie: float) -> Floats | None:
        self._touch()
        aim = (self.objective, self.denominator)
        values = lexicographic(self.session, *aim, self.then, tie).values
        if values is None:
            return None
        if self.cost is not None:
            with equals(self.session, aim, self.then, values):
                cheapest = best_of(self.session, self.cost)
            values = cheapest.values if cheapest.found and cheapest.values is not None else values
        return cleaned(self.reduced.program, self.reduced.full(values))

    def _touch(self) -> None:
        """Take the penalties of means as they are at the best formula, until no formula looks better than it is.

        Where the base of a mean may move, its penalty is no straight line: each round solves with the line that
        touches it at the best formula so far.
        """
        program = self.reduced.program
        if not rough(program):
            return
        least, line, before = np.inf, self.objective, self.objective
        for _ in range(ROUNDS):
            found = best_of(self.session, line, self.denominator).values
            if found is None:
                return
            whole = cleaned(program, self.reduced.full(found))
            reached = objective_of(program, whole)
            if reached > least - STANDSTILL * max(1.0, abs(least)):
                settled = reached <= least + STANDSTILL * max(1.0, abs(least))
                self.objective = line if settled else before
                return
            least, before = reached, line
            line = touching(program, whole)[self.reduced.free]
        self.objective = before

    def _confirmed(self, amounts: Floats, before: float) -> float:
        settled = charge_curves(self.reduced.program.library).settle(amounts)
        return before if settled is None else settled.ionic_strength

    def _move(self, strength: float) -> None:
        """Take the rows of charge that the structure has to hold at another ionic strength."""
        reduced = self.reduced
        for acid in reduced.program.acid_rows:
            here = reduced.row_position.get(acid.row)
            if here is not None and acid.holds(reduced.fixed):
                moved = acid.move.at_strength(strength)
                bound = self.bounds.get(acid.row, acid.bound)
                self.session.set_row(here, reduced.row(moved.row(bound, reduced.slack)))


def _next(steps: Sequence[tuple[float, float]]) -> float:
    """Return the ionic strength to try next: the one that was found, or where two tries say that no change is left.

    Parameters
    ----------
    steps : sequence of (ionic strength, change that its formula asks for)
    """
    strength, change = steps[-1]
    if len(steps) > 1:
        before, change_before = steps[-2]
        slope = (change - change_before) / (strength - before)
        if slope < STEEP:
            return max(0.0, strength - change / slope)
    return strength + change


def rough(program: Program) -> bool:
    """Tell whether the search takes a shortfall for a little less than it is: that of a mean whose base may move."""
    return not all(wish.exact for wish in program.preferences)


def same_choices(program: Program, one: Floats, other: Floats) -> bool:
    """Tell whether two solutions of a program take the same choices."""
    whole = program.form.integer
    return bool(np.array_equal(np.round(one[whole]), np.round(other[whole])))


def objective_of(program: Program, values: Floats) -> float:
    """Return the aim of column values with what shortfalls cost, signed so that less is better."""
    top = float(plain_objective(program) @ values) + penalty(program, values)
    return top if program.ratio_aim is None else top / float(program.ratio_aim @ values)


def ordered(polished: Sequence[Polished], then: Ties, tie: float) -> list[int]:
    """Return the positions of formulas from the best on, ties broken as the brief says.

    Formulas come in the order of the ranking; their own ionic strengths may have moved their aims.
    """
    if not any(found.program.acid_rows or rough(found.program) for found in polished):
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


def beats(one: Polished, other: Polished, names: Sequence[str]) -> bool:
    """Tell whether a formula has a better aim than another and is no worse by any tie-break of a brief."""
    if not one.objective < other.objective - ROUNDING * max(1.0, abs(other.objective)):
        return False
    ties = [[value_of(*tie, item.values) for tie in ties_of(item.program, names)] for item in (one, other)]
    return all(here <= there + HALF for here, there in zip(*ties, strict=True))


def _aims(polished: Sequence[Polished]) -> list[float]:
    return [found.objective for found in polished]


def _ties(polished: Sequence[Polished], top: Floats, base: Floats | None) -> list[float]:
    return [value_of(top, base, found.values) for found in polished]


def cleaned(program: Program, values: Floats) -> Floats:
    """Return column values without the solver's dust, water taken by difference."""
    values = values.copy()
    amounts = values[: program.size]
    amounts[amounts < ROUNDING] = 0.0
    water = program.library.arrays.material_index[program.library.water.id]
    amounts[water] = 0.0
    amounts[water] = 100.0 - float(np.sum(amounts))
    if -ROUNDING * 100 < amounts[water] < ROUNDING:
        amounts[water] = 0.0
    return filled(program, values)


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


def ties_of(program: Program, names: Sequence[str]) -> Ties:
    """Return the tie-breaks of a brief as objectives over all columns, each to be minimised."""
    from optiform.measures.amounts import Count

    found: list[tuple[Floats, Floats | None]] = []
    for name in names:
        measure = program.catalogue.find(name)
        sign = -1.0 if measure.better == "higher" else 1.0
        columns = np.zeros(program.form.columns)
        if isinstance(measure, Count):
            found.append((count_of(program), None))
            continue
        columns[: program.size] = sign * measure.numerator
        base = None
        if measure.denominator is not None:
            base = np.zeros(program.form.columns)
            base[: program.size] = measure.denominator
        found.append((columns, base))
    return tuple(found)
