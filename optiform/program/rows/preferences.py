"""States soft wishes: falling short of one is allowed and costs its worth, a penalty beside the aim.

Value >= L is n . x / d . x + offset >= L; with v = the part of (L - offset) d . x - n . x above 0 the shortfall is
v / (d . x). For a total, or where d . x is fixed, that is one linear row with a column for the shortfall. Where d . x
lies between two ends, the shortfall of a mean is not convex: its range is cut into slices, in each of which v over
the slice's upper end is a bound from below, a hundredth off at most. That is what is searched with; every formula that
is found is then solved at the shortfall itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.brief.models import Prefer
from optiform.brief.preferring import base_window, preference_faults
from optiform.library.selection import named
from optiform.measures import Measure, Side
from optiform.measures.amounts import Count
from optiform.program.norm import lifted
from optiform.program.program import Program, SparseRow
from optiform.program.requirement import Key
from optiform.program.rows.draft import Draft, sides
from optiform.program.rows.wishes import ingredient_columns, refuse_missing
from optiform.tolerances import ROUNDING, TOLERANCE
from optiform.vectors import Floats, Indices

FULL = 100.0
SLICE = 1.01
"""Upper over lower end of a slice: the search takes a shortfall for a hundredth less than it is at most."""


@dataclass(frozen=True, eq=False)
class Preference:
    """One soft wish in a program.

    Attributes
    ----------
    side, bound
        What is wished for.
    worth : float  [aim's unit per unit of the measure]
    counted : ndarray of int
        For a number of ingredients: the choice columns, each as often as it counts.
    columns : ndarray of int
        The columns that carry the shortfall: one, or one for each slice.
    ends : ndarray, shape (slices + 1,)
        Ends of the slices of d . x; two equal ends, or none, where one column says it exactly.
    slices : ndarray of int
        The choice of each slice, where there are several.
    base_row : int
        The row that keeps d . x above the lower end of its slice; -1 where there are none.
    """

    measure: Measure = field(repr=False)
    side: Side
    bound: float
    worth: float
    columns: Indices = field(repr=False)
    counted: Indices = field(repr=False)
    ends: Floats = field(repr=False)
    slices: Indices = field(repr=False)
    base_row: int = -1

    @property
    def exact(self) -> bool:
        """Tell whether the search takes the shortfall for what it is."""
        return not len(self.slices)

    @property
    def sign(self) -> float:
        """Return 1 for a lower bound, -1 for an upper one."""
        return 1.0 if self.side == "at_least" else -1.0

    def value(self, values: Floats) -> float | None:
        """Return the measure at column values."""
        if len(self.counted):
            return float(values[self.counted].sum())
        return self.measure.value(values[: len(self.measure.numerator)])

    def short(self, values: Floats) -> float:
        """Return by how much a formula falls short, in the measure's unit; 0 where the measure is not defined."""
        value = self.value(values)
        return 0.0 if value is None else max(self.sign * (self.bound - value), 0.0)

    def penalty(self, values: Floats) -> float:
        """Return what falling short costs, in the aim's unit."""
        return self.worth * self.short(values)

    def fill(self, values: Floats) -> None:
        """Set the columns of the shortfall as they follow from the amounts and choices."""
        short = self.short(values)
        values[self.columns] = 0.0
        if self.exact:
            values[self.columns[0]] = short
            return
        base = self._base(values)
        place = int(np.searchsorted(self.ends[:-1], base + ROUNDING, side="right")) - 1
        place = min(max(place, 0), len(self.slices) - 1)
        values[self.slices] = 0.0
        values[self.slices[place]] = 1.0
        values[self.columns[place]] = short * base

    def tangent(self, values: Floats, width: int) -> Floats:
        """Return a linear form over all columns that is the penalty at a formula, and touches it there.

        Amounts add to 100, so a constant is a coefficient on all of them.
        """
        form = np.zeros(width)
        if self.exact or self.measure.denominator is None:
            form[self.columns] = self.worth
            return form
        base, size = self._base(values), len(self.measure.numerator)
        brought = self.short(values) * base
        form[self.columns] = self.worth / base
        form[:size] = self.worth * brought / base * (1.0 / FULL - self.measure.denominator / base)
        return form

    def _base(self, values: Floats) -> float:
        assert self.measure.denominator is not None
        return float(self.measure.denominator @ values[: len(self.measure.numerator)])


@dataclass(frozen=True, eq=False)
class SoftMove:
    """The row of a soft wish, which follows its bound."""

    preference: Preference = field(repr=False)

    @property
    def side(self) -> Side:
        """Return the side from which the wish bounds."""
        return self.preference.side

    def row(self, bound: float, slack: float = 0.0) -> SparseRow:
        """Return the row at a bound; it is never relaxed, for it may be missed anyway."""
        wish = self.preference
        times = wish.ends[0] if wish.exact and len(wish.ends) else 1.0
        carried = np.full(len(wish.columns), wish.sign * times)
        if len(wish.counted):
            indices, counts = np.unique(wish.counted, return_counts=True)
            return self._row(indices, counts.astype(float), carried, bound)
        row = wish.measure.row(wish.side, bound)
        indices = np.flatnonzero(np.abs(row.coefficients) > ROUNDING)
        return self._row(indices, row.coefficients[indices], carried, row.bound)

    def _row(self, indices: Indices, values: Floats, carried: Floats, end: float) -> SparseRow:
        columns = np.concatenate([indices, self.preference.columns]).astype(np.intp)
        return SparseRow.of(columns, np.concatenate([values, carried]), self.side, end)

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return d(row right-hand side) / d(bound)."""
        return 1.0 if len(self.preference.counted) else self.preference.measure.scale(amounts, bound)


def add_preferences(draft: Draft) -> None:
    """Add the soft wishes of a brief: columns that carry what is missing, and what these cost."""
    aim = draft.catalogue.find(draft.brief.aim.measure)
    for number, wish in enumerate(draft.brief.prefer, 1):
        measure = draft.catalogue.find(wish.measure)
        faults = list(preference_faults(wish, aim, draft.brief.targets, draft.catalogue.find))
        for key, message, allowed in faults:
            draft.faults.add(f"[[prefer]] {number}, {key}", message, allowed=allowed)
        if faults:
            continue
        if wish.worth > 0 and not isinstance(measure, Count):
            refuse_missing(draft, measure)
        for side, bound in sides(wish.at_least, wish.at_most):
            _add(draft, wish, measure, side, bound, Key("prefer", (number,), side))


def _add(draft: Draft, wish: Prefer, measure: Measure, side: Side, bound: float, key: Key) -> None:
    counted = ingredient_columns(draft) if isinstance(measure, Count) else []
    label = f"{named(measure.name)} preferably"
    why = f"each {measure.unit or 'unit'} short of it is worth {wish.worth:g}"
    requirement = draft.require_bound(
        key, label, side, bound, measure.unit, measure=measure.name, movable=False, why=why
    )
    ends = _ends(draft, measure)
    several = len(ends) > 1 and ends[-1] > ends[0]
    most = _most(measure, side, bound, len(counted))
    columns = [draft.column(0.0, most, integer=False) for _ in range(max(len(ends) - 1, 1))]
    slices = [draft.column() for _ in columns] if several else []
    preference = Preference(
        measure,
        side,
        bound,
        wish.worth,
        np.array(columns, dtype=np.intp),
        np.array(counted, dtype=np.intp),
        ends,
        np.array(slices, dtype=np.intp),
    )
    move = SoftMove(preference)
    row = draft.add(requirement, move.row(bound))
    draft.moves.setdefault(requirement, []).append((row, move))
    if several:
        base_row = _add_slices(draft, requirement, preference, most)
        preference = replace(preference, base_row=base_row)
    draft.preferences.append(preference)


def _add_slices(draft: Draft, requirement: int, wish: Preference, most: float) -> int:
    """Choose one slice; d . x is at least its lower end, and only its own column carries the shortfall."""
    assert wish.measure.denominator is not None
    key = draft.requirements[requirement].key
    own = draft.require_own(
        Key(key.section, (*key.place, wish.side), "slices"),
        f"the base of {named(wish.measure.name)} lies in one slice of its range",
    )
    draft.add_row(own, wish.slices, np.ones(len(wish.slices)), lower=1.0, upper=1.0)
    held = np.flatnonzero(wish.measure.denominator)
    base_row = draft.add_row(
        own,
        [*held, *wish.slices],
        [*wish.measure.denominator[held], *(-wish.ends[:-1] * (1.0 - TOLERANCE))],
        lower=0.0,
    )
    for column, choice in zip(wish.columns.tolist(), wish.slices.tolist(), strict=True):
        draft.add_row(own, [column, choice], [1.0, -most], upper=0.0)
    return base_row


def _ends(draft: Draft, measure: Measure) -> Floats:
    """Return the ends of the slices of a mean's base: two equal ones where it is fixed; none for a total."""
    if measure.denominator is None:
        return np.zeros(0)
    low, high = base_window(measure.denominator, draft.brief.targets, draft.catalogue.find)
    if high <= low:
        return np.array([low, low])
    return np.geomspace(low, high, max(math.ceil(math.log(high / low) / math.log(SLICE) - ROUNDING), 1) + 1)


def _most(measure: Measure, side: Side, bound: float, counted: int) -> float:
    """Return what no formula is short of more than [row units]: amounts add to 100."""
    if counted:
        return float(max(bound, counted))
    row = measure.row(side, bound)
    worst = FULL * float(row.coefficients.min() if side == "at_least" else row.coefficients.max())
    missing = row.bound - worst if side == "at_least" else worst - row.bound
    return max(missing, 0.0) + 1.0


def filled(program: Program, values: Floats) -> Floats:
    """Return column values with the norms, hulls and shortfalls that follow from the amounts and choices."""
    if not (program.preferences or program.hulls or program.form.norms):
        return values
    values = lifted(program.form.norms, values.copy())
    for hull in program.hulls:
        hull.fill(values)
    for preference in program.preferences:
        preference.fill(values)
    return values


def penalty(program: Program, values: Floats) -> float:
    """Return what a formula's shortfalls cost together, in the aim's unit."""
    return sum(preference.penalty(values) for preference in program.preferences)


def touching(program: Program, values: Floats) -> Floats:
    """Return the aim with all penalties as a linear form that is right at a formula and touches them there."""
    objective = plain_objective(program)
    for preference in program.preferences:
        objective = objective + preference.tangent(values, len(objective))
    return objective


def plain_objective(program: Program) -> Floats:
    """Return the aim alone over all columns, without any penalty."""
    objective = program.form.objective.copy()
    for preference in program.preferences:
        objective[preference.columns] = 0.0
    return objective


def priced(draft: Draft, objective: Floats) -> Floats:
    """Return an objective over all columns, to be minimised, with the penalty of each shortfall added."""
    objective = objective.copy()
    for wish in draft.preferences:
        objective[wish.columns] = wish.worth if wish.exact else wish.worth / wish.ends[1:]
    return objective
