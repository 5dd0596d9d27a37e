"""Adds columns and rows to a form, or sets forms side by side, for questions that ask more than a program does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from optiform.program.program import Form, Program, SparseRow
from optiform.vectors import Floats, among


def extended(form: Form, columns: Sequence[tuple[float, float]], rows: Sequence[SparseRow]) -> Form:
    """Return a form with continuous columns and rows added at the end; the added columns cost nothing.

    Parameters
    ----------
    columns : sequence of (lower, upper)
    rows : sequence of SparseRow
        Over the columns of the form and the added ones.
    """
    added = len(columns)
    bounds = np.array(columns, dtype=float).reshape(added, 2)
    lengths = np.array([len(row.indices) for row in rows], dtype=np.intp)
    return replace(
        form,
        lower=np.concatenate([form.lower, bounds[:, 0]]),
        upper=np.concatenate([form.upper, bounds[:, 1]]),
        integer=np.concatenate([form.integer, np.zeros(added, dtype=bool)]),
        objective=np.concatenate([form.objective, np.zeros(added)]),
        starts=np.concatenate([form.starts, form.starts[-1] + np.cumsum(lengths)]).astype(np.intp),
        indices=np.concatenate([form.indices, *(row.indices for row in rows)]).astype(np.intp),
        values=np.concatenate([form.values, *(row.values for row in rows)]),
        row_lower=np.concatenate([form.row_lower, [row.lower for row in rows]]),
        row_upper=np.concatenate([form.row_upper, [row.upper for row in rows]]),
    )


def side_by_side(forms: Sequence[Form]) -> Form:
    """Return forms that share nothing as one, without an objective."""
    widths = [form.columns for form in forms]
    starts = np.concatenate([[0], np.cumsum(widths)[:-1]]).astype(np.intp)
    lengths = np.concatenate([np.diff(form.starts) for form in forms])
    return Form(
        lower=np.concatenate([form.lower for form in forms]),
        upper=np.concatenate([form.upper for form in forms]),
        integer=np.concatenate([form.integer for form in forms]),
        objective=np.zeros(sum(widths)),
        starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.intp),
        indices=np.concatenate([form.indices + start for form, start in zip(forms, starts, strict=True)]),
        values=np.concatenate([form.values for form in forms]),
        row_lower=np.concatenate([form.row_lower for form in forms]),
        row_upper=np.concatenate([form.row_upper for form in forms]),
        norms=tuple(
            norm.shifted(int(start)) for form, start in zip(forms, starts, strict=True) for norm in form.norms
        ),
    )


def rewritten(form: Form, rows: Mapping[int, Mapping[int, float]]) -> Form:
    """Return a form in which some rows hold other values, by column; bounds stay as they are."""
    if not rows:
        return form
    kept = ~among(form.owner, list(rows))
    lengths = [len(values) for values in rows.values()]
    owner = np.concatenate([form.owner[kept], np.repeat(list(rows), lengths)])
    indices = np.concatenate([form.indices[kept], [column for values in rows.values() for column in values]])
    values = np.concatenate([form.values[kept], [value for held in rows.values() for value in held.values()]])
    order = np.argsort(owner, kind="stable")
    counts = np.bincount(owner, minlength=form.rows)
    return replace(
        form,
        starts=np.concatenate([[0], np.cumsum(counts)]).astype(np.intp),
        indices=indices[order].astype(np.intp),
        values=values[order],
    )


def released(program: Program, requirements: Sequence[int]) -> Program:
    """Return a program in which some requirements ask for nothing any more; no row changes its place."""
    form = program.form
    lower, upper = form.row_lower.copy(), form.row_upper.copy()
    for requirement in requirements:
        rows = program.rows_of[requirement]
        lower[rows], upper[rows] = -np.inf, np.inf
    return replace(
        program,
        form=replace(form, row_lower=lower, row_upper=upper),
        moves=program.moves.without(requirements),
    )


def dense(row: SparseRow, columns: int) -> Floats:
    """Return the values of a row over all columns, shape (columns,)."""
    values = np.zeros(columns)
    values[row.indices] = row.values
    return values
