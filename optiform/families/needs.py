"""The fewest materials of each function that any formula of a product uses: rows that tighten the joint relaxation."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.program import SparseRow
from optiform.program.extended import extended
from optiform.solver import Session
from optiform.tolerances import CLEAR

if TYPE_CHECKING:
    from optiform.families.joint import Block
    from optiform.library.models import Library
    from optiform.solver import Clock
    from optiform.vectors import Floats

HALF_A_MATERIAL = 0.5


def counted(block: Block, library: Library, alone: Floats, clock: Clock) -> Block:
    """Return a product's block with rows that say how many materials of each function it needs.

    Parameters
    ----------
    alone : ndarray, shape (n,)  [% w/w]
        A formula of the product: of what it does without none is needed.

    Notes
    -----
    A relaxation takes a hundredth of an acid where a formula takes one or none. Each row is the optimum of a small
    integer program of the product alone, so no family is lost by it.
    """
    form = replace(block.form, norms=())
    session = Session(form, clock=clock, arrays=True)
    found = []
    for function in dict.fromkeys(material.function for material in library.materials):
        members = np.flatnonzero(library.arrays.is_function(function))
        columns = np.concatenate([block.choices[material] for material in members])
        used = int(np.count_nonzero(alone[members] > 0))
        if not used or not len(columns):
            continue
        row = SparseRow(np.sort(columns), np.ones(len(columns)), float(used), np.inf)
        mixed, needed = _fewest(session, row)
        if needed > mixed + CLEAR:
            found.append(replace(row, lower=needed))
    return replace(block, form=extended(block.form, [], found))


def _fewest(session: Session, row: SparseRow) -> tuple[float, float]:
    """Return the least sum of a row's choices in a mixture, and a whole number that no formula is below."""
    objective = np.zeros(session.form.columns)
    objective[row.indices] = row.values
    with session.trial():
        session.set_objective(objective)
        with session.trial():
            session.relax()
            mixed = session.solve()
        if mixed.values is None:
            return 0.0, 0.0
        whole = float(np.ceil(mixed.objective - CLEAR))
        if whole >= row.lower:
            return mixed.objective, whole
        fewer = session.below(row.lower - HALF_A_MATERIAL)
    bound = row.lower if fewer.status == "infeasible" else fewer.bound
    return mixed.objective, max(whole, float(np.ceil(bound - CLEAR)) if np.isfinite(bound) else whole)
