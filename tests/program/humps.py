"""Random blends whose measure rises with salt to a peak and falls beyond, and their optimum by another way."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from optiform.program import Form, Norm, Square
from tests.oracles import INF, form_of

SIZE, MOST = 5, 3
SALT = 1
"""Which material is all salt; the second brings a tenth of itself."""

STARTS = (0.02, 0.2, 0.5, 0.8, 0.98)


@dataclass(frozen=True, eq=False)
class Hump:
    """Water and some materials, at most three used, with mean . x - bend s^2 -+ k |F (x, s^2)| between two limits."""

    form: Form
    cost: np.ndarray
    low: np.ndarray
    high: np.ndarray
    mean: np.ndarray
    bend: float
    salty: np.ndarray
    root: np.ndarray
    k: float
    limits: tuple[float, float]

    def middle(self, x):
        return self.mean @ x - self.bend * (self.salty @ x) ** 2

    def margin(self, x):
        return self.k * float(np.linalg.norm(self.root @ np.append(x, (self.salty @ x) ** 2)))

    def missing(self, values):
        """Return by how much the worse of both limits is missed."""
        x = np.asarray(values)[: SIZE + 1]
        least, most = self.limits
        return max(least - (self.middle(x) - self.margin(x)), self.middle(x) + self.margin(x) - most, 0.0)


def random_hump(seed: int, *, sure: bool, only_least: bool = False) -> Hump:
    """Draw a blend in which salt thickens up to a peak, and more of some materials pays; a margin where `sure`."""
    rng = np.random.default_rng(seed)
    cost = np.append(0.0, rng.uniform(-1.0, 2.0, SIZE))
    cost[SALT] = rng.uniform(-0.5, 0.3)
    low, high = rng.uniform(0.05, 0.5, SIZE), rng.uniform(4.0, 20.0, SIZE)
    high[SALT - 1] = rng.uniform(2.5, 5.0)
    mean = np.append(0.0, rng.uniform(0.02, 0.12, SIZE))
    bend = float(rng.uniform(0.2, 0.5))
    mean[SALT] = 2.0 * bend * rng.uniform(1.0, 2.0)
    salty = np.zeros(SIZE + 1)
    salty[SALT], salty[SALT + 1] = 1.0, 0.1
    trials = rng.uniform(0.0, 8.0, size=(7, SIZE + 1))
    trials[:, SALT] = rng.uniform(0.0, 3.0, 7)
    trials[:, 0] = 100.0 - trials[:, 1:].sum(axis=1)
    rows = np.column_stack([trials, (trials @ salty) ** 2])
    precision = np.diag(np.append(1e4, np.full(SIZE + 1, 10.0))) + rows.T @ rows / 4.0
    spread = 0.01 * np.linalg.inv(precision)
    root = np.vstack([np.linalg.cholesky(spread).T, np.append(np.full(SIZE + 1, 0.001), 0.0)])
    k = float(rng.uniform(1.3, 2.0)) if sure else 0.0
    limits = (float(rng.uniform(0.5, 1.4)), INF if only_least else float(rng.uniform(1.5, 2.2)))
    return Hump(
        _form(cost, low, high, mean, bend, salty, root, k, limits),
        cost, low, high, mean, bend, salty, root, k, limits,
    )  # fmt: skip


def _form(cost, low, high, mean, bend, salty, root, k, limits) -> Form:
    amounts = np.arange(SIZE + 1)
    choices, square, column = SIZE + 1 + np.arange(SIZE), 2 * SIZE + 1, 2 * SIZE + 2
    linear = {**dict(enumerate(mean.tolist())), square: -bend}
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
    most = float(salty[1:] @ high) ** 2
    form = form_of(
        [*cost, *np.zeros(SIZE + 2)],
        rows,
        upper=[100.0, *high, *np.ones(SIZE), most, 1000.0],
        integer=choices.tolist(),
    )
    here = np.flatnonzero(salty)
    norms = (
        Square(square, here, salty[here][None]),
        Norm(column, np.append(amounts, square), root),
    )
    return replace(form, norms=norms)


def brute_optimum(hump: Hump) -> float | None:
    """Return the least cost over every support and from many starts; None where none holds both limits."""
    found = [
        value
        for size in range(MOST + 1)
        for support in itertools.combinations(range(SIZE), size)
        if (value := _on_support(hump, np.array(support, dtype=int))) is not None
    ]
    return min(found, default=None)


def _on_support(hump: Hump, support: np.ndarray) -> float | None:
    """Return the least cost with just these materials used, by a solver for smooth programs from many starts."""

    def whole(part):
        x = np.zeros(SIZE + 1)
        x[support + 1] = part
        x[0] = 100.0 - part.sum()
        return x

    def slopes(part, sign):
        x, steep = whole(part), 2.0 * hump.salty * (hump.salty @ whole(part))
        there = hump.root @ np.append(x, (hump.salty @ x) ** 2)
        turned = (there / np.linalg.norm(there)) @ hump.root
        full = hump.mean - hump.bend * steep + sign * hump.k * (turned[:-1] + turned[-1] * steep)
        return full[support + 1] - full[0]

    ends = [(lambda part: hump.middle(whole(part)) - hump.margin(whole(part)) - hump.limits[0], -1.0, 1.0)]
    if np.isfinite(hump.limits[1]):
        ends.append(
            (lambda part: hump.limits[1] - hump.middle(whole(part)) - hump.margin(whole(part)), 1.0, -1.0)
        )
    held = [
        {"type": "ineq", "fun": fun, "jac": lambda part, s=sign, t=times: t * slopes(part, s)}
        for fun, sign, times in ends
    ]
    low, high = hump.low[support], hump.high[support]
    if not len(support):
        return 0.0 if all(fun(np.zeros(0)) >= 0 for fun, _, _ in ends) else None
    best = None
    for salt, other in itertools.product(STARTS, (0.1, 0.9)):
        share = np.where(support == SALT - 1, salt, other)
        result = minimize(
            lambda part: hump.cost[support + 1] @ part,
            low + share * (high - low),
            jac=lambda part: hump.cost[support + 1],
            bounds=list(zip(low, high, strict=True)),
            constraints=held,
            method="SLSQP",
            options={"ftol": 1e-13, "maxiter": 500},
        )
        if min(fun(result.x) for fun, _, _ in ends) >= -1e-8 and (best is None or result.fun < best):
            best = float(result.fun)
    return best
