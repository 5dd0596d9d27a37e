"""Random blends with a margin, straight or past a peak of salt, and their optimum by another way: on every support."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.optimize import minimize

from optiform.program import Form, Norm, Square
from tests.oracles import INF, form_of

MOST = 3
SALT = 1
"""Which material of a blend with a peak is all salt; the second brings a tenth of itself."""

STRAIGHT = tuple((share, share) for share in (0.0, 0.5, 1.0))
CURVED = tuple(itertools.product((0.02, 0.2, 0.5, 0.8, 0.98), (0.1, 0.9)))


@dataclass(frozen=True, eq=False)
class Blend:
    """Water and some materials, at most three used, with mean . x - bend s^2 -+ k |F (x, s^2)| between two limits.

    `bend` is 0 and s stands nowhere in a straight one. `starts` are the parts of the range at which a solver begins:
    of the salt, and of all else.
    """

    cost: np.ndarray
    low: np.ndarray
    high: np.ndarray
    mean: np.ndarray
    root: np.ndarray
    k: float
    limits: tuple[float, float]
    bend: float = 0.0
    salty: np.ndarray = field(default_factory=lambda: np.zeros(0))
    starts: tuple[tuple[float, float], ...] = STRAIGHT

    @property
    def size(self) -> int:
        return len(self.low)

    def salt(self, x):
        return self.salty @ x if self.bend else 0.0

    def lifted(self, x):
        return np.append(x, self.salt(x) ** 2) if self.bend else x

    def middle(self, x):
        return self.mean @ x - self.bend * self.salt(x) ** 2

    def margin(self, x):
        return self.k * float(np.linalg.norm(self.root @ self.lifted(x)))

    def slopes(self, x, sign):
        """Return the gradient of the middle and `sign` times the margin."""
        there = self.root @ self.lifted(x)
        turned = (there / np.linalg.norm(there)) @ self.root
        if not self.bend:
            return self.mean + sign * self.k * turned
        steep = 2.0 * self.salty * self.salt(x)
        return self.mean - self.bend * steep + sign * self.k * (turned[:-1] + turned[-1] * steep)

    def missing(self, values):
        """Return by how much the worse of both limits is missed."""
        x = np.asarray(values)[: self.size + 1]
        least, most = self.limits
        return max(least - (self.middle(x) - self.margin(x)), self.middle(x) + self.margin(x) - most, 0.0)

    @property
    def form(self) -> Form:
        """Return the blend as a program with a column for its margin, and one for its square where it has a peak."""
        size = self.size
        amounts, choices = np.arange(size + 1), size + 1 + np.arange(size)
        square, column = 2 * size + 1, 2 * size + 1 + bool(self.bend)
        linear = dict(enumerate(self.mean.tolist())) | ({square: -self.bend} if self.bend else {})
        rows = [
            (dict.fromkeys(amounts.tolist(), 1.0), 100, 100),
            (dict.fromkeys(choices.tolist(), 1.0), -INF, MOST),
            ({**linear, column: -self.k}, self.limits[0], INF),
            ({**linear, column: self.k}, -INF, self.limits[1]),
        ]
        for place, choice in enumerate(choices.tolist()):
            rows += [
                ({place + 1: 1.0, choice: -float(self.low[place])}, 0, INF),
                ({place + 1: 1.0, choice: -float(self.high[place])}, -INF, 0),
            ]
        here = np.flatnonzero(self.salty)
        squares = (Square(square, here, self.salty[here][None]),) if self.bend else ()
        most = [float(self.salty[1:] @ self.high) ** 2] if self.bend else []
        form = form_of(
            [*self.cost, *np.zeros(column - size)],
            rows,
            upper=[100.0, *self.high, *np.ones(size), *most, 1000.0 if self.bend else 100.0],
            integer=choices.tolist(),
        )
        held = np.append(amounts, square) if self.bend else amounts
        return replace(form, norms=(*squares, Norm(column, held, self.root)))


def random_blend(seed: int) -> Blend:
    """Draw a blend: costs, use ranges, a mean, and what a regression on a few trials could leave unknown of it."""
    rng, size = np.random.default_rng(seed), 6
    cost = np.append(0.0, rng.uniform(0.5, 3.0, size))
    low, high = rng.uniform(0.2, 1.5, size), rng.uniform(6.0, 25.0, size)
    mean = np.append(0.0, rng.uniform(0.02, 0.12, size))
    trials = rng.uniform(0.0, 10.0, size=(5, size + 1))
    trials[:, 0] = 100.0 - trials[:, 1:].sum(axis=1)
    precision = np.diag(np.append(1e4, np.full(size, 10.0))) + trials.T @ trials / 9.0
    spread = 0.01 * (np.linalg.inv(precision) + np.ones((size + 1, size + 1)) / 100.0**2)
    k = float(rng.uniform(1.3, 2.2))
    limits = (float(rng.uniform(0.5, 1.2)), float(rng.uniform(1.8, 3.0)))
    return Blend(cost, low, high, mean, np.linalg.cholesky(spread).T, k, limits)


def random_hump(seed: int, *, sure: bool, only_least: bool = False) -> Blend:
    """Draw a blend in which salt thickens up to a peak, and more of some materials pays; a margin where `sure`."""
    rng, size = np.random.default_rng(seed), 5
    cost = np.append(0.0, rng.uniform(-1.0, 2.0, size))
    cost[SALT] = rng.uniform(-0.5, 0.3)
    low, high = rng.uniform(0.05, 0.5, size), rng.uniform(4.0, 20.0, size)
    high[SALT - 1] = rng.uniform(2.5, 5.0)
    mean = np.append(0.0, rng.uniform(0.02, 0.12, size))
    bend = float(rng.uniform(0.2, 0.5))
    mean[SALT] = 2.0 * bend * rng.uniform(1.0, 2.0)
    salty = np.zeros(size + 1)
    salty[SALT], salty[SALT + 1] = 1.0, 0.1
    trials = rng.uniform(0.0, 8.0, size=(7, size + 1))
    trials[:, SALT] = rng.uniform(0.0, 3.0, 7)
    trials[:, 0] = 100.0 - trials[:, 1:].sum(axis=1)
    rows = np.column_stack([trials, (trials @ salty) ** 2])
    precision = np.diag(np.append(1e4, np.full(size + 1, 10.0))) + rows.T @ rows / 4.0
    spread = 0.01 * np.linalg.inv(precision)
    root = np.vstack([np.linalg.cholesky(spread).T, np.append(np.full(size + 1, 0.001), 0.0)])
    k = float(rng.uniform(1.3, 2.0)) if sure else 0.0
    limits = (float(rng.uniform(0.5, 1.4)), INF if only_least else float(rng.uniform(1.5, 2.2)))
    return Blend(cost, low, high, mean, root, k, limits, bend, salty, CURVED)


def best_of_supports(blend: Blend) -> float | None:
    """Return the least cost over every support of at most three materials; None where none holds both limits."""
    found = [
        value
        for size in range(MOST + 1)
        for support in itertools.combinations(range(blend.size), size)
        if (value := _on_support(blend, np.array(support, dtype=int))) is not None
    ]
    return min(found, default=None)


def _on_support(blend: Blend, support: np.ndarray) -> float | None:
    """Return the least cost with just these materials used, by a solver for smooth programs from several starts."""

    def whole(part):
        x = np.zeros(blend.size + 1)
        x[support + 1] = part
        x[0] = 100.0 - part.sum()
        return x

    def slopes(part, sign):
        full = blend.slopes(whole(part), sign)
        return full[support + 1] - full[0]

    least, most = blend.limits
    ends = [(lambda part: blend.middle(whole(part)) - blend.margin(whole(part)) - least, -1.0, 1.0)]
    if np.isfinite(most):
        ends.append((lambda part: most - blend.middle(whole(part)) - blend.margin(whole(part)), 1.0, -1.0))
    held = [
        {"type": "ineq", "fun": fun, "jac": lambda part, s=sign, t=times: t * slopes(part, s)}
        for fun, sign, times in ends
    ]
    low, high = blend.low[support], blend.high[support]
    if not len(support):
        return 0.0 if all(fun(np.zeros(0)) >= 0 for fun, _, _ in ends) else None
    best = None
    for salt, other in blend.starts:
        result = minimize(
            lambda part: blend.cost[support + 1] @ part,
            low + np.where(support == SALT - 1, salt, other) * (high - low),
            jac=lambda part: blend.cost[support + 1],
            bounds=list(zip(low, high, strict=True)),
            constraints=held,
            method="SLSQP",
            options={"ftol": 1e-13, "maxiter": 500},
        )
        if min(fun(result.x) for fun, _, _ in ends) >= -1e-8 and (best is None or result.fun < best):
            best = float(result.fun)
    return best
