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
        objective = np.zeros(form.columns)
        objective[columns] = 1.0
        with session.trial():
            session.set_objective(objective)
            mixed, least = _least(session, used)
        if least > mixed + CLEAR:
            found.append(SparseRow(np.sort(columns), np.ones(len(columns)), least, np.inf))
    return replace(block, form=extended(block.form, [], found))


def _least(session: Session, used: int) -> tuple[float, float]:
    """Return the least of the objective in a mixture, and a whole number that no formula is below."""
    with session.trial():
        session.relax()
        mixed = session.solve()
    if mixed.values is None:
        return 0.0, 0.0
    least = float(np.ceil(mixed.objective - CLEAR))
    if least < used:
        fewer = session.below(used - HALF_A_MATERIAL)
        bound = used if fewer.status == "infeasible" else fewer.bound
        least = max(least, float(np.ceil(bound - CLEAR)) if np.isfinite(bound) else least)
    return mixed.objective, least
