"""Random blends with a margin, and their optimum by another way: a convex solver on every support."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from optiform.program import Form, Norm
from tests.oracles import INF, form_of

SIZE, MOST = 6, 3


@dataclass(frozen=True, eq=False)
class Blend:
    """Water and some materials, at most three used, with mean . x - k sqrt(x'Sx) >= limit and an upper limit alike."""

    form: Form
    cost: np.ndarray
    low: np.ndarray
    high: np.ndarray
    mean: np.ndarray
    spread: np.ndarray
    k: float
    limits: tuple[float, float]

    def margin(self, x):
        return self.k * np.sqrt(x @ self.spread @ x)

    def missing(self, values):
        """Return by how much the worse of both limits is missed."""
        x = np.asarray(values)[: SIZE + 1]
        least, most = self.limits
        middle, margin = self.mean @ x, self.margin(x)
        return max(least - (middle - margin), middle + margin - most, 0.0)


def random_blend(seed: int) -> Blend:
    """Draw a blend: costs, use ranges, a mean, and what a regression on a few trials could leave unknown of it."""
    rng = np.random.default_rng(seed)
    cost = np.append(0.0, rng.uniform(0.5, 3.0, SIZE))
    low, high = rng.uniform(0.2, 1.5, SIZE), rng.uniform(6.0, 25.0, SIZE)
    mean = np.append(0.0, rng.uniform(0.02, 0.12, SIZE))
    trials = rng.uniform(0.0, 10.0, size=(5, SIZE + 1))
    trials[:, 0] = 100.0 - trials[:, 1:].sum(axis=1)
    scale = 0.01
    precision = np.diag(np.append(1e4, np.full(SIZE, 10.0))) + trials.T @ trials / 9.0
    spread = scale * (np.linalg.inv(precision) + np.ones((SIZE + 1, SIZE + 1)) / 100.0**2)
    k = float(rng.uniform(1.3, 2.2))
    limits = (float(rng.uniform(0.5, 1.2)), float(rng.uniform(1.8, 3.0)))
    amounts = np.arange(SIZE + 1)
    choices, column = SIZE + 1 + np.arange(SIZE), 2 * SIZE + 1
    linear = dict(enumerate(mean.tolist()))
    rows = [
        (dict.fromkeys(amounts.tolist(), 1.0), 100, 100),
        (dict.fromkeys(choices.tolist(), 1.0), -INF, MOST),
        ({**linear, column: -k}, limits[0], INF),
        ({**linear, column: k}, -INF, limits[1]),
    ]
    for place, choice in enumerate(choices.tolist()):
        rows += [
            ({place + 1: 1.0, choice: -float(low[place])}, 0, INF),
            ({place + 1: 1.0, choice: -float(high[place])}, -INF, 0),
        ]
    form = form_of(
        [*cost, *np.zeros(SIZE + 1)],
        rows,
        upper=[100.0, *high, *np.ones(SIZE), 100.0],
        integer=choices.tolist(),
    )
    norm = Norm(column, amounts, np.linalg.cholesky(spread).T)
    return Blend(replace(form, norms=(norm,)), cost, low, high, mean, spread, k, limits)


def conic_optimum(blend: Blend) -> float | None:
    """Return the least cost over every support of at most three materials; None where none holds the margins."""
    found = [
        value
        for size in range(MOST + 1)
        for support in itertools.combinations(range(SIZE), size)
        if (value := _on_support(blend, np.array(support, dtype=int))) is not None
    ]
    return min(found, default=None)


def _on_support(blend: Blend, support: np.ndarray) -> float | None:
    """Return the least cost with just these materials used: a smooth convex program in a few amounts."""

    def whole(part):
        x = np.zeros(SIZE + 1)
        x[support + 1] = part
        x[0] = 100.0 - part.sum()
        return x

    def slopes(part, sign):
        x = whole(part)
        full = blend.mean + sign * blend.k * (blend.spread @ x) / np.sqrt(x @ blend.spread @ x)
        return full[support + 1] - full[0]

    ends = [
        (lambda part: blend.mean @ whole(part) - blend.margin(whole(part)) - blend.limits[0], -1.0, 1.0),
        (lambda part: blend.limits[1] - blend.mean @ whole(part) - blend.margin(whole(part)), 1.0, -1.0),
    ]
    held = [
        {"type": "ineq", "fun": fun, "jac": lambda part, s=sign, t=times: t * slopes(part, s)}
        for fun, sign, times in ends
    ]
    low, high = blend.low[support], blend.high[support]
    if not len(support):
        return 0.0 if all(fun(np.zeros(0)) >= 0 for fun, _, _ in ends) else None
    best = None
    for share in (0.0, 0.5, 1.0):
        result = minimize(
            lambda part: blend.cost[support + 1] @ part,
            low + share * (high - low),
            jac=lambda part: blend.cost[support + 1],
            bounds=list(zip(low, high, strict=True)),
            constraints=held,
            method="SLSQP",
            options={"ftol": 1e-13, "maxiter": 500},
        )
        if min(fun(result.x) for fun, _, _ in ends) >= -1e-8 and (best is None or result.fun < best):
            best = float(result.fun)
    return best
