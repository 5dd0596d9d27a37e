"""Finds offers that no formula needs, since another offer always serves as well.

Two materials are offers of the same thing when they weigh the same in every row: the same composition,
tags and rules. Then only price and use levels tell them apart. docs/explanation/screening.md has the proof.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optiform.program.program import Program
from optiform.program.reduction.bounding import Ends
from optiform.program.reduction.tighten import caps
from optiform.vectors import Flags, Indices


def needless(program: Program, among: Flags) -> Flags:
    """Flag materials that another of them replaces in any formula: at no higher aim, and with nothing else changed.

    Materials that make formulas different, or that must be used, are never flagged.

    Parameters
    ----------
    program : Program
        With a linear aim, and no tie-break that tells offers apart.
    among : ndarray of bool, shape (n,)
        Materials that may be used at all.

    Notes
    -----
    An offer stands in for another one that is used alone when its use levels are no narrower. Where a formula
    uses both, it takes over the other's amount as well: that needs a total which keeps both together
    within its use level, and no row that counts on both.
    """
    form, ends = program.form, Ends.of(program)
    least, most = np.zeros(program.size), np.zeros(program.size)
    least[ends.materials], most[ends.materials] = ends.least, ends.most
    together = caps(form, program.size)
    own = program.own_choice
    free = (own >= 0) & among & ~program.different
    free &= (form.lower[own] < 1) & (form.upper[own] >= 1) & ~_counted_on(program, ends.rows)[own]
    cost = form.objective[: program.size]
    flags = np.zeros(program.size, dtype=bool)
    for offers in _same(program, np.flatnonzero(free), ends.rows):
        dear = offers[np.argsort(cost[offers], kind="stable")]
        for place in range(1, len(dear)):
            other, cheaper = dear[place], dear[:place]
            wide = (least[cheaper] <= least[other]) & (most[cheaper] >= most[other])
            flags[other] = bool(np.any(wide & (most[cheaper] >= together[cheaper])))
    return flags


def _counted_on(program: Program, levels: Flags) -> Flags:
    """Flag choices without which a row may ask for more, though the like of them is taken, shape (columns,)."""
    form = program.form
    ends = [form.values * bound[form.indices] for bound in (form.lower, form.upper)]
    least = np.bincount(form.owner, weights=np.minimum(*ends), minlength=form.rows)[form.owner]
    most = np.bincount(form.owner, weights=np.maximum(*ends), minlength=form.rows)[form.owner]
    lacking = (form.values > 0) & (least + form.values < form.row_lower[form.owner])
    lacking |= (form.values < 0) & (most + form.values > form.row_upper[form.owner])
    counted = np.bincount(form.indices, weights=lacking & ~levels[form.owner], minlength=form.columns)
    return np.asarray(counted > 0)


def _same(program: Program, materials: Indices, levels: Flags) -> Iterator[Indices]:
    """Yield the sets of two or more materials whose amounts and choices stand alike in every row and norm."""
    form, own = program.form, program.own_choice
    order = np.argsort(form.indices, kind="stable")
    order = order[~levels[form.owner[order]] & (form.values[order] != 0)]
    ends = np.searchsorted(form.indices[order], np.arange(form.columns + 1))

    def standing(column: int) -> tuple[bytes, bytes, float]:
        span = order[ends[column] : ends[column + 1]]
        values = np.concatenate([form.values[span], *(norm.of(column) for norm in form.norms)])
        return form.owner[span].tobytes(), values.tobytes(), float(form.objective[column])

    groups: dict[object, list[int]] = {}
    for material in materials.tolist():
        key = (standing(material)[:2], standing(int(own[material])))
        groups.setdefault(key, []).append(material)
    for group in groups.values():
        if len(group) > 1:
            yield np.array(group, dtype=np.intp)
