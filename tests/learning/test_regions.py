"""Published regions: their printed vertices lie on them, and points drawn inside are inside and even."""

from itertools import combinations

import numpy as np
import pytest

from optiform.learning.regions import Region, hit_and_run
from tests.learning.published import FLARE


def between(lower, upper, total=None):
    eye = np.eye(len(lower))
    return Region(np.vstack([eye, -eye]), np.concatenate([upper, -np.asarray(lower)]), total)


def holds(region, point):
    whole = region.total is None or abs(np.sum(point) - region.total) <= 1e-9
    return whole and np.all(region.rows @ point <= region.limits + 1e-9)


# F: McLean and Anderson, Technometrics 8 (1966) 447-454, from memory. P: R package mixexp (Xvert.Rd), Lawson.
# X: Xvert.Rd, "page 465". D: tests of mixexp, "Exercise 11.3".
# L: mixexp (conmx), Piepel, Journal of Quality Technology 20 (1988) 125-139.
F = between([0.4, 0.1, 0.1, 0.03], [0.6, 0.5, 0.5, 0.08], 1.0)
P = between([0, 0.10, 0.05], [0.8, 0.95, 0.50], 1.0)
X = between([0.124, 0.064, 0.374, 0.374], [0.188, 0.128, 0.438, 0.438], 1.0)
D = between([0.2, 0.1, 0.1], [0.8, 0.4, 0.5], 1.0)
L = Region(
    np.vstack(
        [between([0.1, 0.1, 0], [0.5, 0.7, 0.7]).rows, [[-0.85, -0.90, -1], [0.85, 0.90, 1], [-0.70, 0, -1]]]
    ),
    np.array([0.5, 0.7, 0.7, -0.1, -0.1, 0, *[-0.90, 0.95, -0.40]]),
    1.0,
)
PRINTED = {
    "flare": (F, FLARE.blends[:8]),
    "polvoron": (P, [(0, 0.5, 0.5), (0, 0.95, 0.05), (0.4, 0.1, 0.5), (0.8, 0.1, 0.1), (0.8, 0.15, 0.05)]),
    "linear rows": (
        L,
        [(0.1, 0.35, 0.55), (0.1, 0.57, 0.33), (4 / 15, 0.1, 19 / 30), (1 / 3, 0.5, 1 / 6), (0.5, 0.1, 0.4),
         (0.5, 0.25, 0.25)],
    ),
    "page 465": (X, np.array([0.124, 0.064, 0.374, 0.374]) + 0.064 * np.eye(4)),
    "exercise 11.3": (
        D,
        [(0.2, 0.3, 0.5), (0.2, 0.4, 0.4), (0.4, 0.1, 0.5), (0.5, 0.4, 0.1), (0.8, 0.1, 0.1)],
    ),
}  # fmt: skip


def in_order(points):
    return np.array(sorted(np.round(points, 9).tolist()))


def by_brute_force(region):
    """Solve every choice of n - 1 rows held as equations beside the total; keep what breaks no row."""
    n, found = region.rows.shape[1], set()
    for chosen in combinations(range(len(region.limits)), n - 1):
        left = np.vstack([np.ones(n), region.rows[list(chosen)]])
        if abs(np.linalg.det(left)) < 1e-9:
            continue
        point = np.linalg.solve(left, [region.total, *region.limits[list(chosen)]])
        if np.all(region.rows @ point <= region.limits + 1e-9):
            found.add(tuple(np.round(point, 8) + 0.0))
    return np.array(sorted(found))


@pytest.mark.parametrize("name", PRINTED)
def test_published_vertices_are_those_of_the_rows(name):
    region, printed = PRINTED[name]
    assert np.allclose(in_order(by_brute_force(region)), in_order(printed), atol=1e-7)
    assert all(holds(region, np.array(point)) for point in printed)


def test_points_drawn_inside_are_inside_and_even():
    """In a triangle the mean of even points is its centroid, and a tenth of the height holds 19 % (1 - 0.9^2)."""
    triangle = between(np.zeros(3), np.ones(3), 1.0)
    points = hit_and_run(triangle, np.full(3, 1 / 3), 1500, seed=1)
    assert all(holds(triangle, point) for point in points)
    assert points.mean(axis=0) == pytest.approx([1 / 3] * 3, abs=0.02)
    assert np.mean(points[:, 0] < 0.1) == pytest.approx(0.19, abs=0.04)


def test_the_same_seed_draws_the_same_points():
    start = by_brute_force(L).mean(axis=0)
    assert np.array_equal(hit_and_run(L, start, 5, seed=3), hit_and_run(L, start, 5, seed=3))
    assert all(holds(L, point) for point in hit_and_run(L, start, 50, seed=4))
