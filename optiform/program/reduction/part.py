"""Leaves some materials out of a program: smaller, and exact for every formula that uses none of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.program.program import Form, Program
from optiform.vectors import Flags, Floats, Indices


@dataclass(frozen=True, eq=False)
class Part:
    """What is left of a program when the amounts and choices of some materials are held at 0.

    It can be ranked like a program. Rows that any values within the bounds of their columns meet
    are gone as well.

    Attributes
    ----------
    columns : ndarray of int
        Columns of the program that are left; column j here is ``columns[j]`` there.
    rows : ndarray of int
        Rows of the program that are left; row r here is ``rows[r]`` there.
    structure : ndarray of int
        The choice columns that make two formulas different, as numbered here.
    ratio_aim : ndarray, optional, shape (columns here,)
    possible : bool
        False where a row that nothing is left of asks for something, or what must be there is left out.
    """

    program: Program = field(repr=False)
    columns: Indices = field(repr=False)
    rows: Indices = field(repr=False)
    form: Form = field(repr=False)
    structure: Indices = field(repr=False)
    ratio_aim: Floats | None = field(repr=False)
    possible: bool

    def full(self, values: Floats) -> Floats:
        """Return all columns of the program from those that are left, without dust where a choice is not taken."""
        whole = np.zeros(self.program.form.columns)
        whole[self.columns] = values
        own = self.program.own_choice
        whole[: self.program.size][(own >= 0) & (whole[own] < 0.5)] = 0.0
        return whole


def part_of(program: Program, kept: Flags, shut: Sequence[str] = ()) -> Part:
    """Leave out all materials but the flagged ones, and some preservative systems.

    Parameters
    ----------
    kept : ndarray of bool, shape (n,)
    """
    form = program.form
    stays = np.ones(form.columns, dtype=bool)
    stays[: program.size] = kept
    owned = program.own_choice >= 0
    stays[program.own_choice[owned & ~kept]] = False
    stays[[program.systems[name] for name in shut]] = False
    for choice in program.upper_ends:
        stays[choice.columns] = stays[choice.system]
    for helper in program.helpers:
        stays[helper.column] = stays[helper.members].any()
    columns = np.flatnonzero(stays)
    position = np.full(form.columns, -1, dtype=np.intp)
    position[columns] = np.arange(len(columns))
    inside = stays[form.indices]
    counts = np.bincount(form.owner[inside], minlength=form.rows)
    needed = asking(form, inside)
    empty = counts == 0
    rows = np.flatnonzero(needed & ~empty)
    inside &= needed[form.owner]
    return Part(
        program=program,
        columns=columns,
        rows=rows,
        form=Form(
            lower=form.lower[columns],
            upper=form.upper[columns],
            integer=form.integer[columns],
            objective=form.objective[columns],
            starts=np.concatenate([[0], np.cumsum(counts[rows])]).astype(np.intp),
            indices=position[form.indices[inside]],
            values=form.values[inside],
            row_lower=form.row_lower[rows],
            row_upper=form.row_upper[rows],
            norms=tuple(norm.at(position) for norm in form.norms),
        ),
        structure=position[program.structure[stays[program.structure]]],
        ratio_aim=None if program.ratio_aim is None else program.ratio_aim[columns],
        possible=bool(
            np.all((form.row_lower[empty] <= 0) & (form.row_upper[empty] >= 0))
            and np.all(form.lower[~stays] <= 0)
        ),
    )


def trimmed(form: Form) -> tuple[Form, Indices]:
    """Return a form without the rows that ask for nothing, and which rows are left."""
    everything = np.ones(len(form.values), dtype=bool)
    needed = asking(form, everything)
    rows = np.flatnonzero(needed)
    inside = needed[form.owner]
    counts = np.diff(form.starts)[rows]
    return (
        replace(
            form,
            starts=np.concatenate([[0], np.cumsum(counts)]).astype(np.intp),
            indices=form.indices[inside],
            values=form.values[inside],
            row_lower=form.row_lower[rows],
            row_upper=form.row_upper[rows],
        ),
        rows,
    )


def thinned(form: Form, size: int) -> Form:
    """Return a form without what its rows say of columns that are held at 0; use levels stay as they are."""
    choices = np.bincount(form.owner, weights=form.indices >= size, minlength=form.rows)
    pairs = (choices == 1) & (np.diff(form.starts) == 2)
    inside = (form.upper > 0)[form.indices] | pairs[form.owner]
    counts = np.bincount(form.owner[inside], minlength=form.rows)
    return replace(
        form,
        starts=np.concatenate([[0], np.cumsum(counts)]).astype(np.intp),
        indices=form.indices[inside],
        values=form.values[inside],
    )


def asking(form: Form, inside: Flags) -> Flags:
    """Flag the rows that some values within the bounds of what is left of them do not meet, shape (rows,).

    A column that stands in no such row keeps its first row, so that every column stands in one.

    Parameters
    ----------
    inside : ndarray of bool, shape (all values,)
        What is left of the rows.
    """
    owner, indices, values = form.owner[inside], form.indices[inside], form.values[inside]
    ends = [values * bound[indices] for bound in (form.lower, form.upper)]
    least = np.bincount(owner, weights=np.minimum(*ends), minlength=form.rows)
    most = np.bincount(owner, weights=np.maximum(*ends), minlength=form.rows)
    asked = np.asarray((least < form.row_lower) | (most > form.row_upper), dtype=bool)
    held = np.bincount(indices, weights=asked[owner], minlength=form.columns) > 0
    lone = np.flatnonzero(~held[indices])
    _, first = np.unique(indices[lone], return_index=True)
    asked[owner[lone[first]]] = True
    return asked
