"""Which trials teach most: designs of largest determinant, by exchange of trials for candidates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optiform.tolerances import CLEAR, NOT_SINGULAR
from optiform.vectors import Floats

MOST_EXCHANGES = 500
"""Exchanges in one start; each raises the determinant, so that this many are never needed."""


@dataclass(frozen=True, eq=False)
class Design:
    """A choice of candidates.

    Attributes
    ----------
    chosen : tuple of int
        Positions among the candidates, rising; a candidate may stand in it several times.
    log_determinant : float
        Natural logarithm of the determinant of the information matrix, what was known before included.
    """

    chosen: tuple[int, ...]
    log_determinant: float


def d_optimal(
    candidates: Floats, how_many: int, known: Floats | None = None, *, seed: int = 1, starts: int = 20
) -> Design:
    """Return the choice of candidates with the largest determinant that exchanges find.

    Parameters
    ----------
    candidates : ndarray, shape (c, p)
        Rows of the design matrix.
    how_many : int
        Trials to choose.
    known : ndarray, shape (p, p), optional
        Information that is there already: the precision of a prior, of earlier trials; with it the design is
        Bayesian, and fewer trials than terms will do.
    seed, starts : int
        Of the random choices that the exchanges begin from.

    Notes
    -----
    Fedorov's exchange: for a trial i and a candidate j the determinant changes by the factor
    1 + d_j - d_i - (d_i d_j - d_ij^2), d being entries of F M^-1 F'; the best pair is exchanged while it gains.
    """
    terms = candidates.shape[1]
    before = np.zeros((terms, terms)) if known is None else known
    random = np.random.default_rng(seed)
    floor = NOT_SINGULAR * float(np.einsum("ij,ij->", candidates, candidates)) / candidates.size
    best: Design | None = None
    for _ in range(starts):
        start = random.integers(0, len(candidates), how_many)
        chosen = _exchanged(candidates, start, before + floor * np.eye(terms))
        sign, log = np.linalg.slogdet(before + candidates[chosen].T @ candidates[chosen])
        found = Design(tuple(sorted(int(i) for i in chosen)), float(log) if sign > 0 else -np.inf)
        if best is None or found.log_determinant > best.log_determinant + CLEAR:
            best = found
    assert best is not None
    return best


def _exchanged(candidates: Floats, chosen: NDArray[np.int64], known: Floats) -> NDArray[np.int64]:
    chosen = chosen.copy()
    for _ in range(MOST_EXCHANGES):
        held = candidates[chosen]
        inverse = np.linalg.inv(known + held.T @ held)
        half = candidates @ inverse
        of_candidates = np.einsum("ij,ij->i", half, candidates)
        across = held @ half.T
        of_held = of_candidates[chosen]
        factor = 1.0 + of_candidates - of_held[:, None] - (np.outer(of_held, of_candidates) - across**2)
        out, into = np.unravel_index(int(np.argmax(factor)), factor.shape)
        if factor[out, into] <= 1.0 + CLEAR:
            break
        chosen[out] = into
    return chosen


def farthest_apart(points: Floats, how_many: int, always: Sequence[int] = ()) -> list[int]:
    """Return positions of points that lie far from each other: each next one is farthest from those before.

    `points` has shape (n, d); `always` are taken first.
    """
    taken = list(always) or [0]
    away = np.min(np.linalg.norm(points[:, None] - points[taken][None], axis=2), axis=1)
    while len(taken) < min(how_many, len(points)):
        taken.append(int(np.argmax(away)))
        away = np.minimum(away, np.linalg.norm(points - points[taken[-1]], axis=1))
    return taken
