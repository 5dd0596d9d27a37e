"""Vertices of published regions, each also by brute force over the rows that may be tight."""

from itertools import combinations

import numpy as np
import pytest

from optiform.learning.regions import Region, hit_and_run, vertices
from tests.learning.published import FLARE

# F: McLean and Anderson, Technometrics 8 (1966) 447-454, from memory. P: R package mixexp (Xvert.Rd), Lawson.
# X: Xvert.Rd, "page 465". D: tests of mixexp, "Exercise 11.3". S: mixexp (SneeMq), Snee and Marquardt, Technometrics 18
# (1976) 19-29. L: mixexp (conmx), Piepel, Journal of Quality Technology 20 (1988) 125-139.
F = Region.between([0.4, 0.1, 0.1, 0.03], [0.6, 0.5, 0.5, 0.08], 1.0)
P = Region.between([0, 0.10, 0.05], [0.8, 0.95, 0.50], 1.0)
X = Region.between([0.124, 0.064, 0.374, 0.374], [0.188, 0.128, 0.438, 0.438], 1.0)
D = Region.between([0.2, 0.1, 0.1], [0.8, 0.4, 0.5], 1.0)
S = Region.between(
    [0.10, 0.05, 0, 0, 0.10, 0.05, 0, 0], [0.45, 0.50, 0.10, 0.10, 0.60, 0.20, 0.05, 0.05], 1.0
)
L = Region.between([0.1, 0.1, 0], [0.5, 0.7, 0.7], 1.0).within(
    [[-0.85, -0.90, -1], [0.85, 0.90, 1], [-0.70, 0, -1]], [-0.90, 0.95, -0.40]
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
def test_published_vertices(name):
    region, printed = PRINTED[name]
    assert np.allclose(in_order(vertices(region).points), in_order(printed), atol=1e-9)


@pytest.mark.parametrize("region", [F, P, X, D, L], ids=["F", "P", "X", "D", "L"])
def test_vertices_are_those_of_brute_force(region):
    assert np.allclose(in_order(vertices(region).points), by_brute_force(region), atol=1e-7)


def test_eight_components_have_182_vertices():
    corners = vertices(S)
    assert len(corners.points) == 182
    assert all(S.holds(point) for point in corners.points)


def test_the_limit_that_one_manual_mistypes_gives_170():
    wider = Region.between(
        [0.10, 0.05, 0, 0, 0.10, 0.05, 0, 0], [0.45, 0.50, 0.10, 0.40, 0.60, 0.20, 0.05, 0.05], 1.0
    )
    assert len(vertices(wider).points) == 170


def test_edges_faces_and_centre_of_the_flare():
    corners = vertices(F)
    assert len(corners.edges) == 12
    faces = [row for row in corners.tight.T if row.sum() >= 3]
    assert len(faces) == 6
    assert corners.points.mean(axis=0) == pytest.approx([0.5, 0.2225, 0.2225, 0.055])


def test_edges_and_centre_of_the_polvoron():
    corners = vertices(P)
    middles = {tuple(np.round((corners.points[i] + corners.points[j]) / 2, 6)) for i, j in corners.edges}
    assert {(0, 0.725, 0.275), (0.2, 0.3, 0.5), (0.6, 0.1, 0.3), (0.4, 0.55, 0.05)} <= middles
    assert corners.points.mean(axis=0) == pytest.approx([0.4, 0.36, 0.24])


def test_without_a_total_a_cube_has_eight_corners_and_twelve_edges():
    cube = vertices(Region.between([0, 0, 0], [1, 2, 3]))
    assert len(cube.points) == 8
    assert len(cube.edges) == 12


def test_an_apex_where_four_rows_meet_is_one_vertex():
    """A pyramid: five corners, eight edges."""
    sides = [[1, 0, 1], [-1, 0, 1], [0, 1, 1], [0, -1, 1]]
    pyramid = vertices(Region(np.array([[0, 0, -1.0], *sides]), np.array([0, 1.0, 1, 1, 1])))
    assert len(pyramid.points) == 5
    assert len(pyramid.edges) == 8


def test_an_empty_region_has_no_vertices():
    assert len(vertices(P.within([[1.0, 0, 0]], [-0.1])).points) == 0


def test_points_drawn_inside_are_inside_and_even():
    """In a triangle the mean of even points is its centroid, and a tenth of the height holds 19 % (1 - 0.9^2)."""
    triangle = Region.between(np.zeros(3), np.ones(3), 1.0)
    points = hit_and_run(triangle, np.full(3, 1 / 3), 1500, seed=1)
    assert all(triangle.holds(point) for point in points)
    assert points.mean(axis=0) == pytest.approx([1 / 3] * 3, abs=0.02)
    assert np.mean(points[:, 0] < 0.1) == pytest.approx(0.19, abs=0.04)


def test_the_same_seed_draws_the_same_points():
    start = vertices(L).points.mean(axis=0)
    assert np.array_equal(hit_and_run(L, start, 5, seed=3), hit_and_run(L, start, 5, seed=3))
    assert all(L.holds(point) for point in hit_and_run(L, start, 50, seed=4))
