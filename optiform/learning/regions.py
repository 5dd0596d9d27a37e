"""The corners of what a brief allows: vertices and edges of a polytope, and points drawn evenly inside it."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from optiform.tolerances import ROUNDING
from optiform.vectors import Flags, Floats

AROUND = 1e3
"""Half-width of the simplex that the clipping begins with, in units of the largest limit."""


@dataclass(frozen=True, eq=False)
class Region:
    """The points x with rows . x <= limits whose parts add up to a total, if one is given.

    Attributes
    ----------
    rows : ndarray, shape (r, n)
    limits : ndarray, shape (r,)
    total : float, optional
    """

    rows: Floats = field(repr=False)
    limits: Floats = field(repr=False)
    total: float | None = None

    @classmethod
    def between(cls, lower: Floats, upper: Floats, total: float | None = None) -> Region:
        """Return the region of points between two bounds, both of shape (n,)."""
        lower, upper = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
        eye = np.eye(len(lower))
        return cls(np.vstack([eye, -eye]), np.concatenate([upper, -lower]), total)

    def within(self, rows: Floats, limits: Floats) -> Region:
        """Return the part of the region where further rows hold."""
        return Region(
            np.vstack([self.rows, np.atleast_2d(rows)]),
            np.concatenate([self.limits, np.atleast_1d(limits)]),
            self.total,
        )

    def holds(self, point: Floats) -> bool:
        """Tell whether a point lies inside."""
        slack = self.limits - self.rows @ point
        whole = self.total is None or abs(float(np.sum(point)) - self.total) <= ROUNDING
        return whole and bool(np.all(slack >= -ROUNDING * np.maximum(1.0, np.abs(self.limits))))


@dataclass(frozen=True, eq=False)
class Corners:
    """The vertices of a region, and which rows each lies on.

    Attributes
    ----------
    points : ndarray, shape (v, n)
    tight : ndarray of bool, shape (v, r)
    """

    points: Floats = field(repr=False)
    tight: Flags = field(repr=False)

    @property
    def edges(self) -> tuple[tuple[int, int], ...]:
        """Return the pairs of vertices that an edge joins: no third vertex lies on all rows that both lie on."""
        return tuple(pair for pair in combinations(range(len(self.points)), 2) if _joined(self.tight, *pair))


def vertices(region: Region) -> Corners:
    """Return the vertices of a bounded region; none where it is empty.

    Notes
    -----
    Double description (Motzkin and others, 1953): a simplex around the region is cut by one row after the other; each
    cut drops the vertices outside and adds one on every edge that it crosses.
    """
    origin, basis = _frame(region)
    rows, limits = region.rows @ basis, region.limits - region.rows @ origin
    size = AROUND * max(1.0, float(np.abs(region.limits).max(initial=0.0)))
    points, tight = _simplex(basis.shape[1], len(limits), size)
    scales = np.maximum(np.linalg.norm(rows, axis=1), ROUNDING)
    for k in range(len(limits)):
        slack = (limits[k] - points @ rows[k]) / scales[k]
        points, tight = _cut(points, tight, slack, k, size)
    tight = tight[:, : len(limits)]
    found = origin + points @ basis.T
    order = np.lexsort(found.round(9).T[::-1])
    return Corners(found[order], tight[order])


def _frame(region: Region) -> tuple[Floats, Floats]:
    """Return a point and an orthonormal basis of the plane in which the region lies, shapes (n,) and (n, d)."""
    n = region.rows.shape[1]
    if region.total is None:
        return np.zeros(n), np.eye(n)
    across = np.linalg.svd(np.ones((1, n)))[2][1:].T
    return np.full(n, region.total / n), across


def _simplex(dimension: int, rows: int, size: float) -> tuple[Floats, Flags]:
    """Return the vertices of a large simplex; its own sides stand after the rows of the region."""
    corner = np.full(dimension, -size)
    points = np.vstack([corner, corner + np.eye(dimension) * 2.0 * dimension * size])
    own = ~np.eye(dimension + 1, dtype=bool)
    return points, np.hstack([np.zeros((dimension + 1, rows), dtype=bool), np.roll(own, 1, axis=1)])


def _cut(points: Floats, tight: Flags, slack: Floats, row: int, size: float) -> tuple[Floats, Flags]:
    """Return the vertices that are left, and those that are new, when one more row holds."""
    dust = ROUNDING * max(1.0, size / AROUND)
    inside = [int(i) for i in np.flatnonzero(slack > dust)]
    outside = [int(j) for j in np.flatnonzero(slack < -dust)]
    tight = tight.copy()
    tight[np.abs(slack) <= dust, row] = True
    new_points, new_tight = [], []
    for j in outside:
        for i in inside:
            if _joined(tight, i, j):
                share = slack[i] / (slack[i] - slack[j])
                new_points.append(points[i] + share * (points[j] - points[i]))
                common = tight[i] & tight[j]
                common[row] = True
                new_tight.append(common)
    kept = slack >= -dust
    return (
        np.vstack([points[kept], *new_points]),
        np.vstack([tight[kept], *new_tight]),
    )


def _joined(tight: Flags, i: int, j: int) -> bool:
    common = tight[i] & tight[j]
    on_all = np.flatnonzero(tight[:, common].all(axis=1))
    return len(on_all) == 2


def hit_and_run(region: Region, start: Floats, how_many: int, seed: int, between: int = 20) -> Floats:
    """Return points drawn evenly from a bounded region, shape (how_many, n).

    Parameters
    ----------
    start : ndarray, shape (n,)
        A point inside.
    between : int
        Steps that are walked from one point to the next.

    Notes
    -----
    Hit-and-run (Smith, Operations Research 32 (1984) 1296-1308; from memory): from a point along a random line to a
    random place of the part that lies inside.
    """
    random = np.random.default_rng(seed)
    _, basis = _frame(region)
    point, found = np.array(start, dtype=float), []
    for step in range(how_many * between):
        direction = basis @ random.standard_normal(basis.shape[1])
        speed, room = region.rows @ direction, np.maximum(region.limits - region.rows @ point, 0.0)
        ahead, back = speed > ROUNDING, speed < -ROUNDING
        furthest = float(np.min(room[ahead] / speed[ahead], initial=np.inf))
        nearest = float(np.max(room[back] / speed[back], initial=-np.inf))
        point = point + direction * random.uniform(nearest, furthest)
        if step % between == between - 1:
            found.append(point)
    return np.array(found)
