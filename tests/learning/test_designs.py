"""Optimal designs: the equivalence theorem, moments of the simplex, and a published region."""

from itertools import combinations
from math import factorial, log, prod

import numpy as np
import pytest
from scipy.optimize import minimize

from optiform.learning.designs import d_optimal, farthest_apart
from tests.learning.published import FLARE, YARN, scheffe
from tests.learning.test_regions import F, by_brute_force

LATTICE = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0], [0.5, 0, 0.5], [0, 0.5, 0.5]])
CENTRE = np.full((1, 3), 1 / 3)
EXPONENTS = ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1))


def moment(powers):
    """E[prod x_i^a_i] over the simplex with even weight: (q-1)! prod a_i! / (q-1+sum a_i)!, the Dirichlet integral."""
    q = len(powers)
    return factorial(q - 1) * prod(map(factorial, powers)) / factorial(q - 1 + sum(powers))


MOMENTS = np.array([[moment(np.add(a, b)) for b in EXPONENTS] for a in EXPONENTS])


def test_the_exchange_finds_the_lattice():
    grid = np.array([(i, j, 8 - i - j) for i in range(9) for j in range(9 - i)]) / 8
    found = d_optimal(scheffe(grid, 2), 6, seed=2)
    assert sorted(grid[list(found.chosen)].tolist()) == sorted(LATTICE.tolist())
    assert found.log_determinant == pytest.approx(-19.068323 + 6 * log(6), abs=5e-6)


def test_the_mean_variance_of_the_lattice_and_its_best_weights():
    """I-optimal weights as printed by Liu and Neudecker (1995): .1002 .2016 .0949 (from memory), refined by search."""
    rows = scheffe(np.vstack([LATTICE, CENTRE]), 2)

    def criterion(weights):
        return np.trace(np.linalg.solve(rows.T @ (weights[:, None] * rows), MOMENTS))

    equal = np.array([1 / 6] * 6 + [0])
    assert criterion(equal) == pytest.approx(3.8)

    def weights(free):
        corner, middle = free
        return np.array([corner] * 3 + [middle] * 3 + [1 - 3 * corner - 3 * middle])

    found = minimize(lambda free: criterion(weights(free)), [0.1, 0.2], method="Nelder-Mead",
                     options={"xatol": 1e-9, "fatol": 1e-13})  # fmt: skip
    assert weights(found.x)[[0, 3, 6]] == pytest.approx([0.100163, 0.201553, 0.094852], abs=2e-6)
    assert found.fun == pytest.approx(3.240611, abs=5e-7)


def flare_candidates():
    """8 vertices, 12 middles of edges, 6 centroids of faces, the centre."""
    corners = by_brute_force(F)
    tight = np.abs(corners @ F.rows.T - F.limits) < 1e-7
    edges = [pair for pair in combinations(range(8), 2) if (tight[pair[0]] & tight[pair[1]]).sum() == 2]
    middles = [(corners[i] + corners[j]) / 2 for i, j in edges]
    faces = [corners[row].mean(axis=0) for row in tight.T if row.sum() >= 3]
    return np.vstack([corners, middles, faces, corners.mean(axis=0)])


def test_fifteen_runs_of_the_flare_beat_the_published_design():
    candidates = flare_candidates()
    assert len(candidates) == 27
    rows = scheffe(FLARE.blends, 2)
    published = np.linalg.slogdet(rows.T @ rows)[1]
    assert published == pytest.approx(-61.478521, abs=5e-7)
    found = d_optimal(scheffe(candidates, 2), 15, starts=60)
    assert found.log_determinant >= -60.5784
    assert np.exp((published - found.log_determinant) / 10) == pytest.approx(0.913916, abs=5e-6)


@pytest.mark.parametrize(("runs", "printed"), [(4, -10.637040), (6, -8.791696), (8, -7.690543)])
def test_linear_designs_of_the_flare_stand_on_vertices(runs, printed):
    candidates = flare_candidates()
    found = d_optimal(candidates, runs)
    assert found.log_determinant == pytest.approx(printed, abs=5e-7)
    assert max(found.chosen) < 8


def test_the_next_run_of_the_yarn_is_a_pure_blend():
    rows = scheffe(YARN.blends, 2)
    information = rows.T @ rows
    candidates = scheffe(np.vstack([LATTICE, CENTRE]), 2)
    found = d_optimal(candidates, 1, information)
    assert found.chosen[0] < 3
    row = candidates[found.chosen[0]]
    assert row @ np.linalg.solve(information, row) == pytest.approx(0.5)
    assert found.log_determinant - np.linalg.slogdet(information)[1] == pytest.approx(log(1.5), abs=1e-6)


def test_a_prior_lets_fewer_trials_than_terms_do():
    """With four terms and two trials the determinant of prior and trials is that of brute force over all pairs."""
    candidates, known = flare_candidates(), np.diag([1.0, 2.0, 3.0, 4.0])
    found = d_optimal(candidates, 2, known)
    best = max(
        np.linalg.slogdet(known + candidates[[i, j]].T @ candidates[[i, j]])[1]
        for i in range(27)
        for j in range(i, 27)
    )
    assert found.log_determinant == pytest.approx(best)


def test_points_far_apart_are_taken_first():
    points = np.array([[0.0, 0], [0.1, 0], [1, 0], [0, 1], [0.9, 0]])
    assert farthest_apart(points, 3) == [0, 2, 3]
