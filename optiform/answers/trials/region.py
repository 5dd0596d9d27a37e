"""Tells which formulas a structure allows, and finds some that lie far apart."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from optiform.learning.designs import farthest_apart
from optiform.learning.regions import Region, hit_and_run
from optiform.program import Form
from optiform.program.reduction.reduce import Reduced
from optiform.search.fixed_choices import Polished
from optiform.solver import NO_LIMIT, Clock, Session
from optiform.tolerances import CLEAR, NOISE, ROUNDING
from optiform.vectors import Floats, Indices

DIRECTIONS = 40
"""Random directions in which the furthest formula is looked for, beside the least and the most of each material."""

APART = 10
"""So many corners are taken in pairs, and their middles are candidates too."""

INSIDE = 40
"""Formulas drawn evenly inside."""


@dataclass(frozen=True, eq=False)
class Explored:
    """Formulas that a structure allows.

    Attributes
    ----------
    lower, upper : ndarray, shape (n,)  [% w/w]
        The least and the most of each material.
    centre : ndarray, shape (columns,)
        The middle of the corners.
    candidates : ndarray, shape (c, columns)
        Corners, middles of pairs, the centre (last but those inside), points inside; whole columns of the program.
    """

    lower: Floats = field(repr=False)
    upper: Floats = field(repr=False)
    centre: Floats = field(repr=False)
    candidates: Floats = field(repr=False)


def explore(polished: Polished, seed: int, clock: Clock = NO_LIMIT) -> Explored:
    """Return formulas far apart that hold everything that a brief asks, at the choices of one formula.

    Notes
    -----
    Corners by linear programs: the least and the most of each material, and what lies furthest in random directions.
    Their affine hull is that of all formulas, in which the rows leave a full-dimensional polytope to walk in.
    """
    reduced, size = polished.reduced, polished.program.size
    free = corners_of(reduced.form, np.flatnonzero(reduced.free < size), seed, clock)
    corners = np.array([reduced.full(values) for values in free])
    amounts = corners[:, :size]
    centre = corners.mean(axis=0)
    far = farthest_apart(amounts, APART)
    middles = [(corners[i] + corners[j]) / 2.0 for i, j in combinations(far, 2)]
    inside = _inside(reduced, corners, seed)
    candidates = np.vstack([corners, *middles, centre, *inside])
    return Explored(amounts.min(axis=0), amounts.max(axis=0), centre, candidates)


def corners_of(form: Form, amounts: Indices, seed: int, clock: Clock = NO_LIMIT) -> Floats:
    """Return the points of a continuous program that lie furthest in many directions, each once, shape (c, columns).

    Parameters
    ----------
    amounts : ndarray of int
        The columns over which directions are drawn, the axes among them.
    """
    session = Session(form, clock=clock)
    random = np.random.default_rng(seed)
    found: list[Floats] = []

    def furthest(direction: Floats) -> None:
        session.set_objective(-direction)
        outcome = session.solve()
        if outcome.values is not None:
            found.append(outcome.values)

    for place in amounts:
        for side in (1.0, -1.0):
            direction = np.zeros(form.columns)
            direction[place] = side
            furthest(direction)
    spread = np.ptp(np.array(found), axis=0)
    for _ in range(DIRECTIONS):
        direction = np.zeros(form.columns)
        direction[amounts] = random.standard_normal(len(amounts)) / np.maximum(spread[amounts], NOISE)
        furthest(np.where(spread > NOISE, direction, 0.0))
    rows = np.array(found)
    _, first = np.unique(np.round(rows[:, amounts], 6), axis=0, return_index=True)
    return rows[np.sort(first)]


def _inside(reduced: Reduced, corners: Floats, seed: int) -> Floats:
    """Return formulas drawn evenly from what the rows allow in the affine hull of the corners."""
    form, start = reduced.form, corners.mean(axis=0)[reduced.free]
    _, extents, directions = np.linalg.svd(corners[:, reduced.free] - start, full_matrices=False)
    across = directions[extents > CLEAR * max(float(extents.max(initial=0.0)), ROUNDING)]
    if not len(across):
        return np.zeros((0, corners.shape[1]))
    matrix = np.zeros((form.rows, form.columns))
    matrix[form.owner, form.indices] = form.values
    rows = np.vstack([matrix, -matrix, np.eye(form.columns), -np.eye(form.columns)]) @ across.T
    here = np.concatenate([form.activity(start), -form.activity(start), start, -start])
    limits = np.concatenate([form.row_upper, -form.row_lower, form.upper, -form.lower]) - here
    seen = (np.linalg.norm(rows, axis=1) > CLEAR) & np.isfinite(limits)
    region = Region(rows[seen], np.maximum(limits[seen], 0.0))
    walked = hit_and_run(region, np.zeros(len(across)), INSIDE, seed)
    whole = np.tile(corners[0], (len(walked), 1))
    whole[:, reduced.free] = start + walked @ across
    return whole
