"""Finds the stretches of bounds on which one known structure is the best."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from optiform.answers.tradeoff.axes import Axis
from optiform.answers.tradeoff.structure import Point, Structure
from optiform.faults import InternalError
from optiform.tolerances import NOISE, ROUNDING
from optiform.vectors import Floats

ROUNDS = 60
Run = tuple[float, float, "Structure"]


@dataclass(frozen=True, eq=False)
class Piece:
    """One structure from one bound to another.

    Attributes
    ----------
    first, last : Point
        What the structure does at the ends; at the first end this may be above what another
        structure still does there, where that one reaches no further.
    bracket : float, optional
        The optimum is nowhere further below the piece than this; None where that is not proven.
    """

    structure: Structure = field(repr=False)
    first: Point
    last: Point
    bracket: float | None = None


def sliver(bound: float) -> float:
    """Return a difference of bounds that is none."""
    return NOISE * max(1.0, abs(bound))


def straight_pieces(pool: Sequence[Structure], p: float, q: float) -> list[Piece]:
    """Return the lower envelope of structures whose values are piecewise straight.

    Parameters
    ----------
    p, q : float
        Stretch of bounds; some structure reaches q.
    """
    traces = [
        (item, np.array([k.bound for k in item.traced]), np.array([k.value for k in item.traced]))
        for item in pool
    ]
    marks = {p, q}
    for item, bounds, _ in traces:
        marks.update(float(b) for b in (*bounds, item.end) if p < b < q)
    cuts = _apart(sorted(marks))
    found: list[Run] = []
    for low, high in itertools.pairwise(cuts):
        live = [
            (item, float(np.interp(low, b, v)), float(np.interp(high, b, v)))
            for item, b, v in traces
            if item.end >= high - sliver(high)
        ]
        found += _cell(live, low, high, found[-1][2] if found else None)
    return [piece for low, high, item in joined(found) for piece in _at_kinks(item, low, high)]


def joined(runs: Iterable[Run]) -> list[Run]:
    """Return runs in which neighbours of the same structure are one."""
    found: list[Run] = []
    for start, end, item in runs:
        if found and found[-1][2] is item:
            found[-1] = (found[-1][0], end, item)
        else:
            found.append((start, end, item))
    return found


def _apart(marks: Sequence[float]) -> list[float]:
    """Return marks without those that are hardly apart; the last one stays."""
    kept = [marks[0]]
    for mark in marks[1:]:
        if mark - kept[-1] > sliver(mark):
            kept.append(mark)
        elif len(kept) > 1:
            kept[-1] = mark
    return kept


def _cell(
    live: Sequence[tuple[Structure, float, float]], low: float, high: float, held: Structure | None
) -> list[Run]:
    """Return the lower envelope of straight lines over one cell, from left to right."""
    best = min(at_low for _, at_low, _ in live)
    near = [line for line in live if line[1] <= best + ROUNDING * max(1.0, abs(best))]
    current = min(near, key=lambda line: (line[2], line[0] is not held))
    found: list[Run] = []
    start = low
    while True:
        crossing, following = high, None
        for line in live:
            gain = current[2] - line[2]
            if gain <= ROUNDING * max(1.0, abs(line[2])):
                continue
            lead = line[1] - current[1]
            at = low + (high - low) * lead / (lead + gain) if lead > 0 else low
            at = max(at, start)
            if at < crossing or (at == crossing and following is not None and line[2] < following[2]):
                crossing, following = at, line
        if following is None or high - crossing <= sliver(high):
            return [*found, (start, high, current[0])]
        if crossing - start > sliver(start):
            found.append((start, crossing, current[0]))
            start = crossing
        current = following


def _at_kinks(item: Structure, low: float, high: float) -> list[Piece]:
    """Cut a stretch of one structure at its kinks."""
    inner = [k.bound for k in item.traced if low + sliver(low) < k.bound < high - sliver(high)]
    points = [point for bound in (low, *inner, high) if (point := item.at(min(bound, item.end))) is not None]
    return [Piece(item, a, b) for a, b in itertools.pairwise(points)]


def curved_pieces(pool: Sequence[Structure], p: float, q: float, fine: float, depth: float) -> list[Piece]:
    """Return the stretches from p to q on which one structure is the best known, ends found by halving.

    Some structure reaches q. A change of structure is located as closely as `fine`. A structure gives way at the latest
    where another is better by `depth`; pieces are cut where their structure bends by more.
    """
    cuts = _apart([p, *sorted({item.end for item in pool if p + sliver(p) < item.end < q - sliver(q)}), q])
    found: list[Run] = []
    for low, high in itertools.pairwise(cuts):
        live = [item for item in pool if item.end >= high - sliver(high)]
        found += _between(live, low, high, fine, depth)
    return [piece for low, high, item in joined(found) for piece in bent(item, low, high, depth)]


def bent(item: Structure, low: float, high: float, depth: float) -> list[Piece]:
    """Cut a stretch of one structure where it bends by more than `depth`."""
    return _cut(item, _followed(item, [low, high], depth))


def cut_at_turns(item: Structure, bounds: Sequence[float], depth: float, fine: float) -> list[Piece]:
    """Cut a stretch of one structure where it bends by more than `depth`, and wherever its basis changes.

    `bounds` are the ends of the stretch, and what to look at in any case between them. A change of basis is located as
    closely as `fine`.
    """
    points = _followed(item, bounds, depth)
    whole = points[:1]
    for left, right in itertools.pairwise(points):
        whole += [*item.turns(left, right, fine), right]
    return _cut(item, whole)


def _followed(item: Structure, bounds: Sequence[float], depth: float) -> list[Point]:
    """Return points so close that straight lines through them follow a structure."""
    marks = [_point(item, bound) for bound in _apart(bounds)]
    points = marks[:1]
    for left, right in itertools.pairwise(marks):
        points += [*item.between(left, right, depth, 1e3 * sliver(right.bound)), right]
    return points


def _cut(item: Structure, points: list[Point]) -> list[Piece]:
    return [Piece(item, a, b) for a, b in itertools.pairwise(_turning(points))]


def _turning(points: list[Point]) -> list[Point]:
    """Return points without those that lie on the straight line between their neighbours."""
    kept = points[:1]
    for point, following in itertools.pairwise(points[1:]):
        run = following.bound - kept[-1].bound
        chord = kept[-1].value + (following.value - kept[-1].value) * (point.bound - kept[-1].bound) / run
        if abs(chord - point.value) > 10 * ROUNDING * max(1.0, abs(chord)):
            kept.append(point)
    return [*kept, points[-1]]


def _between(live: Sequence[Structure], p: float, q: float, fine: float, depth: float) -> list[Run]:
    first, last = leader(live, p), leader(live, q)
    if first is not last and value(first, q) <= value(last, q) + ROUNDING:
        last = first
    if first is not last and value(last, p) <= value(first, p) + ROUNDING:
        first = last
    if first is last or q - p <= sliver(q):
        return [(p, q, last)]
    low, high = p, q
    for _ in range(ROUNDS):
        near = high - low <= fine and value(first, high) - value(leader(live, high), high) <= depth
        if near or high - low <= sliver(high):
            break
        middle = 0.5 * (low + high)
        if value(first, middle) <= value(leader(live, middle), middle) + ROUNDING:
            low = middle
        else:
            high = middle
    if high >= q:
        return [(p, q, first)]
    return [(p, high, first), *_between(live, high, q, fine, depth)]


def fitted_in(
    pieces: Sequence[Piece], item: Structure, fine: float, depth: float, *, straight: bool
) -> list[Piece]:
    """Return the best pieces so far, in order, with a further structure where it does better.

    `fine` and `depth` are as for `curved_pieces`; `straight` pieces need neither.
    """
    runs: list[Run] = []
    for piece in pieces:
        p, q = piece.first.bound, piece.last.bound
        if item.end <= p + sliver(p) or q - p <= sliver(q):
            runs.append((p, q, piece.structure))
            continue
        both = [piece.structure, item]
        found = straight_pieces(both, p, q) if straight else curved_pieces(both, p, q, fine, depth)
        runs += [(one.first.bound, one.last.bound, one.structure) for one in found]
    whole = joined(runs)
    if straight:
        return [piece for low, high, one in whole for piece in _at_kinks(one, low, high)]
    return [piece for low, high, one in whole for piece in bent(one, low, high, depth)]


def meeting(item: Structure, following: Structure, low: float, high: float) -> float:
    """Return the bound from `low` to `high` at which the following structure has caught up."""
    if value(following, low) < value(item, low):
        return low
    if value(following, high) >= value(item, high) - ROUNDING:
        return high
    for _ in range(ROUNDS):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if value(following, middle) >= value(item, middle):
            low = middle
        else:
            high = middle
    return high


def leader(live: Sequence[Structure], bound: float) -> Structure:
    """Return the structure that does best at a bound; of equals the first one found."""
    best, found = np.inf, live[0]
    for item in live:
        if item.at_least_worth(bound) >= best:
            continue
        here = value(item, bound)
        if here < best - ROUNDING * max(1.0, abs(best) if np.isfinite(best) else 1.0):
            best, found = here, item
    return found


def value(item: Structure, bound: float) -> float:
    """Return what a structure does at a bound, infinite beyond its reach."""
    point = item.at(min(bound, item.end)) if bound <= item.end + sliver(bound) else None
    return np.inf if point is None else point.value


def _point(item: Structure, bound: float) -> Point:
    point = item.at(min(bound, item.end))
    if point is None:
        raise InternalError("a structure was asked beyond its reach")
    return point


def rise_above(of: Axis, against: Axis, first: Point, last: Point, start: float, slope: float) -> float:
    """Return how far the mixtures of two formulas rise above a straight line through their ends.

    Mixing the two in shares 1 - t and t gives a formula of the same structure at every bound between
    theirs, so the best of the structure is nowhere above the mixtures.
    """
    top_of, base_of = _ends(of, first.values, last.values)
    top_against, base_against = _ends(against, first.values, last.values)

    def above(t: float) -> float:
        made = (top_of[0] + t * (top_of[1] - top_of[0])) / (base_of[0] + t * (base_of[1] - base_of[0]))
        bound = (top_against[0] + t * (top_against[1] - top_against[0])) / (
            base_against[0] + t * (base_against[1] - base_against[0])
        )
        return made - start - slope * min(max(bound, first.bound), last.bound)

    bend_of = (top_of[1] - top_of[0]) * base_of[0] - top_of[0] * (base_of[1] - base_of[0])
    bend_against = slope * (
        (top_against[1] - top_against[0]) * base_against[0]
        - top_against[0] * (base_against[1] - base_against[0])
    )
    shares = [0.0, 1.0]
    if bend_of * bend_against > 0:
        ratio = np.sqrt(bend_against / bend_of)
        below = ratio * (base_of[1] - base_of[0]) - (base_against[1] - base_against[0])
        if below != 0:
            shares.append(float(np.clip((base_against[0] - ratio * base_of[0]) / below, 0.0, 1.0)))
    return max(above(t) for t in shares)


def _ends(axis: Axis, first: Floats, last: Floats) -> tuple[tuple[float, float], tuple[float, float]]:
    top = float(axis.top @ first), float(axis.top @ last)
    if axis.base is None:
        return top, (1.0, 1.0)
    return top, (float(axis.base @ first), float(axis.base @ last))
