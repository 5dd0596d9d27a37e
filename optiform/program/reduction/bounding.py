"""Bounds from below what any formula with a given material costs, from prices put on the rows.

For any prices (of the right sign) on the rows of a program, the aim minus what the rows are worth is a
lower bound on the aim that falls apart into one small minimum per material; whatever the prices,
the bound holds (weak duality), so nothing here has to be trusted to a solver. Good prices come from
the continuous relaxation that `relaxation` states. docs/explanation/screening.md has the proof.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from optiform.program.program import Form, Program
from optiform.program.reduction.part import trimmed
from optiform.program.requirement import Key
from optiform.vectors import Flags, Floats, Indices


@dataclass(frozen=True, eq=False)
class Ends:
    """The use levels of the materials that have a choice of their own.

    Attributes
    ----------
    materials, choices : ndarray of int, shape (k,)
    least, most : ndarray, shape (k,)  [% w/w]
    first_rows : ndarray of int, shape (k,)
        The row of each lower level; that of the upper level follows it.
    rows : ndarray of bool, shape (rows,)
        The rows of all levels.
    """

    materials: Indices
    choices: Indices
    least: Floats
    most: Floats
    first_rows: Indices
    rows: Flags

    @classmethod
    def of(cls, program: Program) -> Ends:
        """Gather the use levels of a program."""
        form, levels = program.form, program.moves.levels
        rows = np.zeros(form.rows, dtype=bool)
        for block in levels:
            rows[block.first_row : block.first_row + len(block)] = True
        if not levels:
            none = np.zeros(0, dtype=np.intp)
            return cls(none, none, np.zeros(0), np.zeros(0), none, rows)
        places = np.concatenate([block.first_row + 2 * np.arange(len(block.materials)) for block in levels])
        return cls(
            materials=np.concatenate([block.materials for block in levels]),
            choices=np.concatenate([block.choices for block in levels]),
            least=-form.values[form.starts[places] + 1],
            most=-form.values[form.starts[places + 1] + 1],
            first_rows=places,
            rows=rows,
        )


@dataclass(frozen=True, eq=False)
class Relaxation:
    """A relaxation in the space of amounts: most materials, or all, have no choice of their own left.

    Attributes
    ----------
    form : Form
        Its columns are those of the program without the choices that are gone.
    columns : ndarray of int
        Column j of the form is ``columns[j]`` of the program.
    rows : ndarray of int
        Row r of the form stands for row ``rows[r]`` of the program.
    """

    form: Form = field(repr=False)
    columns: Indices = field(repr=False)
    rows: Indices = field(repr=False)

    def prices(self, row_dual: Floats, rows: int) -> Floats:
        """Return the price of each row of the program, shape (rows,)."""
        return np.asarray(np.bincount(self.rows, weights=row_dual, minlength=rows), dtype=float)


def relaxation(program: Program, objective: Floats, whole: Indices | None = None) -> Relaxation:
    """Put in place of each material's choice the share of its use range that makes every row weaker.

    A choice y of a material used between l and u lies between x / u and x / l, so each row (and the
    objective) holds all the more with whichever of the two makes it easier. What is held at 0 is left
    out, and a choice that is held at 1 stays as it is.

    Parameters
    ----------
    objective : ndarray, shape (columns,)
        To be minimised.
    whole : ndarray of int, optional
        Choices that stay whole numbers, with the use levels that hang on them.
    """
    form, ends = program.form, Ends.of(program)
    integer = form.integer & np.isin(np.arange(form.columns), [] if whole is None else whole)
    taken = form.lower[ends.choices] >= 1
    stays = taken | integer[ends.choices]
    gone = ends.choices[~stays]
    stands_for = np.arange(form.columns, dtype=np.intp)
    stands_for[gone] = ends.materials[~stays]
    low, high = _shares(form.columns, gone, ends.least[~stays], ends.most[~stays])
    lower = form.lower.copy()
    lower[ends.materials[taken]] = ends.least[taken]
    left = (form.upper > lower) | (lower > 0)
    left[gone] = False
    columns = np.flatnonzero(left)
    position = np.full(form.columns, -1, dtype=np.intp)
    position[columns] = np.arange(len(columns))

    eased_away = ends.rows.copy()
    eased_away[ends.first_rows[integer[ends.choices]] + np.arange(2)[:, None]] = False
    held = ~eased_away[form.owner] & (form.values != 0) & (position[stands_for[form.indices]] >= 0)
    owner, indices, values = form.owner[held], form.indices[held], form.values[held]
    parts = []
    for wanted, from_below in ((np.isfinite(form.row_lower), True), (np.isfinite(form.row_upper), False)):
        mine = wanted[owner]
        there = indices[mine]
        times = np.where((values[mine] > 0) == from_below, high[there], low[there])
        parts.append((2 * owner[mine] + (not from_below), position[stands_for[there]], values[mine] * times))
    row, column, value = _summed(*(np.concatenate(arrays) for arrays in zip(*parts, strict=True)))
    kept, starts = np.unique(row, return_index=True)
    upper_side = kept % 2 == 1
    here = position[stands_for]
    eased_cost = (objective * np.where(objective > 0, low, high))[here >= 0]
    eased, rows = trimmed(
        Form(
            lower=lower[columns],
            upper=form.upper[columns],
            integer=integer[columns],
            objective=np.bincount(here[here >= 0], weights=eased_cost, minlength=len(columns)).astype(float),
            starts=np.concatenate([starts, [len(row)]]).astype(np.intp),
            indices=column,
            values=value,
            row_lower=np.where(upper_side, -np.inf, form.row_lower[kept // 2]),
            row_upper=np.where(upper_side, form.row_upper[kept // 2], np.inf),
        )
    )
    return Relaxation(form=eased, columns=columns, rows=kept[rows] // 2)


def _shares(columns: int, choices: Indices, least: Floats, most: Floats) -> tuple[Floats, Floats]:
    """Return the least and most that 1 % w/w of a material makes its choice; 1 for every other column."""
    low, high = np.ones(columns), np.ones(columns)
    low[choices], high[choices] = 1.0 / most, 1.0 / least
    return low, high


def _summed(rows: Indices, columns: Indices, values: Floats) -> tuple[Indices, Indices, Floats]:
    """Return the values of a matrix by row and column, those in one place added up."""
    order = np.lexsort((columns, rows))
    row, column, value = rows[order], columns[order], values[order]
    first = np.flatnonzero(np.concatenate([[True], (row[1:] != row[:-1]) | (column[1:] != column[:-1])]))
    return row[first], column[first], np.add.reduceat(value, first)


def with_structure(program: Program, values: Floats) -> Program:
    """Return the program with the choices that make two formulas different held as they are in one of them."""
    form = program.form
    lower, upper = form.lower.copy(), form.upper.copy()
    taken = values[program.structure] > 0.5
    lower[program.structure] = np.where(taken, 1.0, lower[program.structure])
    upper[program.structure] = np.where(taken, upper[program.structure], 0.0)
    held = dict.fromkeys(program.structure[~taken].tolist())
    for helper in program.helpers:
        if helper.column in held:
            upper[helper.members] = 0.0
    shut = (program.own_choice >= 0) & (upper[program.own_choice] < 1)
    upper[: program.size][shut] = 0.0
    return replace(program, form=replace(form, lower=lower, upper=upper))


@dataclass(frozen=True, eq=False)
class Bounds:
    """Lower bounds on the aim.

    Attributes
    ----------
    least : float
        No formula has less.
    using : ndarray, shape (n,)
        No formula that uses the material has less; `least` where a material has no choice of its own.
    systems : dict of str to float
        No formula preserved by the system has less.
    """

    least: float
    using: Floats = field(repr=False)
    systems: dict[str, float] = field(repr=False)


def bounds(program: Program, objective: Floats, prices: Floats) -> Bounds:
    """Return what prices on the rows prove about an objective.

    Parameters
    ----------
    objective : ndarray, shape (columns,)
    prices : ndarray, shape (rows,)
        Any; those of the wrong sign, and those of the use levels themselves, count as 0.
    """
    form, ends = program.form, Ends.of(program)
    lower, upper = np.isfinite(form.row_lower), np.isfinite(form.row_upper)
    prices = np.where(lower, prices, np.minimum(prices, 0.0))
    prices = np.where(upper, prices, np.maximum(prices, 0.0))
    prices[ends.rows] = 0.0
    if program.systems:
        prices[program.row_requirement == program.index_of[Key("preserved")]] = 0.0
    priced = prices != 0
    side = np.where(prices > 0, form.row_lower, form.row_upper)
    worth = float(prices[priced] @ side[priced])
    rest = objective - np.bincount(
        form.indices, weights=form.values * prices[form.owner], minlength=form.columns
    )
    least = np.minimum(rest * form.lower, rest * form.upper)
    at_least, at_most = rest[ends.materials] * ends.least, rest[ends.materials] * ends.most
    used = rest[ends.choices] + np.minimum(at_least, at_most)
    used[form.upper[ends.choices] < 1] = np.inf
    taken = form.lower[ends.choices] >= 1
    least[ends.materials] = np.where(taken, used, np.minimum(0.0, used))
    least[ends.choices] = 0.0
    extra = np.zeros(program.size)
    extra[ends.materials] = np.where(taken, 0.0, np.maximum(0.0, used))
    systems = dict.fromkeys(program.systems, 0.0)
    if systems:
        chosen = np.array(list(program.systems.values()), dtype=np.intp)
        open_to = np.where(form.upper[chosen] < 1, np.inf, rest[chosen])
        cheapest = float(open_to.min())
        least[chosen] = 0.0
        worth += cheapest
        systems = dict(zip(program.systems, (open_to - cheapest).tolist(), strict=True))
    total = worth + float(least.sum())
    return Bounds(total, total + extra, {name: total + more for name, more in systems.items()})
