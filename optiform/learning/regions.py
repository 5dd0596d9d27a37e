"""The region that rows and a total leave, and points drawn evenly inside it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.tolerances import ROUNDING
from optiform.vectors import Floats


@dataclass(frozen=True, eq=False)
class Region:
    """The points x with rows . x <= limits whose parts add up to a total, if one is given.

    `rows` have shape (r, n), `limits` (r,).
    """

    rows: Floats = field(repr=False)
    limits: Floats = field(repr=False)
    total: float | None = None


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
    random, n = np.random.default_rng(seed), region.rows.shape[1]
    basis = np.eye(n) if region.total is None else np.linalg.svd(np.ones((1, n)))[2][1:].T
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
