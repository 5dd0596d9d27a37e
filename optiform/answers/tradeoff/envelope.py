"""Finds the whole curve: structures are added until none is better anywhere."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.tradeoff.axes import Axes
from optiform.answers.tradeoff.bounding import Bounding, Line
from optiform.answers.tradeoff.pieces import (
    Piece,
    Run,
    curved_pieces,
    cut_at_turns,
    fitted_in,
    joined,
    meeting,
    rise_above,
    sliver,
    straight_pieces,
)
from optiform.answers.tradeoff.structure import Point, Structure, choices_of
from optiform.faults import InternalError
from optiform.solver import Clock
from optiform.tolerances import CLEAR, EQUAL, HALF
from optiform.vectors import Floats

WITHIN = 1e-3
"""For means: how closely the optimum is bracketed between neighbouring points, in the unit of the value."""

FINE = 1e-2
"""For means: how closely a change of basis or of structure is located, in the unit of the bound."""


@dataclass(frozen=True, eq=False)
class Envelope:
    """Pieces from the least to the furthest bound, in order.

    Attributes
    ----------
    pieces : tuple of Piece
        Empty where no formula holds the rest of the brief.
    stopped : bool
        Whether the search was stopped before everything was proven.
    """

    pieces: tuple[Piece, ...]
    stopped: bool = False
    structures: int = field(default=0)


class EnvelopeSearch:
    """Finds the best value at every bound.

    Once the time of its clock is over what is found so far is returned; the clock's listener hears one short line now
    and then.
    """

    def __init__(self, axes: Axes, within: float, clock: Clock) -> None:
        self.axes, self.within, self.fine, self.clock = axes, within, FINE, clock
        self.bounding = Bounding(axes, clock)
        self.pool: dict[bytes, Structure] = {}
        self.useless: set[bytes] = set()
        self.narrow = 0.0
        self.stopped = False

    def run(self) -> Envelope:
        """Search from the least bound to the furthest, then hold every limit exactly."""
        bounding = self.bounding
        seeds = [bounding.lowest(), bounding.highest(), bounding.cheapest()]
        self.stopped = any(outcome.status == "stopped" for outcome in seeds)
        for outcome in seeds:
            if outcome.values is not None:
                self._add(outcome.values[: bounding.width])
        if not self.pool or seeds[0].values is None:
            return Envelope((), self.stopped)
        end = max(item.end for item in self.pool.values())
        start = min(self.axes.against.at(seeds[0].values[: bounding.width]), end)
        if end - start <= 1e3 * sliver(end):
            return Envelope((self._single(end),), self.stopped, len(self.pool))
        self.fine = min(self.fine, 1e-3 * (end - start))
        self.narrow = EQUAL * (end - start)
        exact = self._exact(self._proven(start, end))
        if exact:
            begun = [one.values[: bounding.width] for one in (seeds[0], seeds[2]) if one.values is not None]
            exact = self._begun(exact, *begun)
        return Envelope(tuple(exact), self.stopped, len(self.pool))

    def _begun(self, pieces: list[Piece], loosest: Floats, cheapest: Floats | None = None) -> list[Piece]:
        """Return pieces that begin exactly where the loosest formula is, with the best of all at that one bound."""
        item = Structure(self.axes, loosest, 0.0)
        if item.possible:
            pieces = _from(pieces, item.lowest())
        best = None if cheapest is None else Structure(self.axes, cheapest, 0.0)
        if best is None or not best.possible or best.least > pieces[0].first.value - 10 * CLEAR:
            return pieces
        point = replace(best.flat, bound=pieces[0].first.bound)
        return [Piece(best, point, point, 0.0), *pieces]

    def _add(self, values: Floats) -> Structure | None:
        """Take a structure into the pool and return it, if it is new and holds anything."""
        key = choices_of(self.axes, values)
        if key in self.pool or key in self.useless:
            return None
        found = Structure(self.axes, values, HALF)
        if not found.possible:
            self.useless.add(key)
            return None
        self.pool[key] = found
        return found

    def _single(self, end: float) -> Piece:
        """Return the one point that is left where every formula has the same bound."""
        item = min(self.pool.values(), key=lambda one: one.least)
        exact = Structure(self.axes, item.choices, 0.0)
        item = exact if exact.possible else item
        point = replace(item.flat, bound=min(end, item.end))
        return Piece(item, point, point, 0.0)

    def _profile(self, p: float, q: float) -> list[Piece]:
        """Return the best of the structures known so far, in nearly straight pieces."""
        pool = list(self.pool.values())
        if self.axes.straight:
            return straight_pieces(pool, p, q)
        return curved_pieces(pool, p, q, self.fine, 0.125 * self.within)

    def _proven(self, start: float, end: float) -> list[Piece]:
        """Put lines under the curve from left to right, prove each, and fit in what beats one."""
        done: list[Piece] = []
        ahead = self._profile(start, end)
        most = len(ahead)
        while ahead:
            under = self._under(ahead[:most])
            settled, found = self._settle(ahead[: under.pieces], under)
            if settled is not None:
                done += settled
                ahead = ahead[under.pieces :]
                most = len(ahead)
                reached = (done[-1].last.bound - start) / (end - start)
                self.clock.say(f"{reached:.0%} of the curve proven, {len(self.pool)} structures")
            elif found is not None:
                depth = 0.125 * self.within
                ahead = fitted_in(ahead, found, self.fine, depth, straight=self.axes.straight)
                most = len(ahead)
            elif under.pieces > 1:
                most = under.pieces // 2
            else:
                ahead[:1] = self._halved(ahead[0])
                most = 1
        return done

    def _under(self, pieces: list[Piece]) -> Under:
        """Return a line under the first few pieces, as many as it can follow closely enough."""
        if self.axes.straight:
            return under(pieces[:1], 0.0)
        return under(pieces, self.within)

    def _settle(self, pieces: list[Piece], under: Under) -> tuple[list[Piece] | None, Structure | None]:
        """Return pieces with their bracket if a line under them is proven; else the structure that beats it, if new."""
        line = under.line
        if line.q - line.p <= sliver(line.q):
            return [replace(piece, bracket=under.depth) for piece in pieces], None
        if self.stopped:
            return pieces, None
        narrow = self.axes.straight or line.q - line.p <= self.narrow
        allowed = CLEAR * max(1.0, abs(pieces[-1].last.value)) if self.axes.straight else self.within
        depth = 0.0 if self.axes.straight else max(under.depth, self._depth(pieces, line))
        if depth >= allowed and not narrow:
            return None, None
        return self._judged(pieces, line, depth, allowed, narrow=narrow)

    def _judged(
        self, pieces: list[Piece], line: Line, depth: float, allowed: float, *, narrow: bool
    ) -> tuple[list[Piece] | None, Structure | None]:
        """Ask whether anything is below a line by more than is allowed."""
        verdict = self.bounding.verdict(line, pieces[-1].last.value, allowed - depth)
        if verdict.stopped:
            self.stopped = True
            return pieces, None
        bracket = depth + max(verdict.gap, 0.0)
        told = [replace(piece, bracket=bracket) for piece in pieces]
        if bracket <= allowed:
            return told, None
        found = None if verdict.values is None else self._add(verdict.values)
        return (told if found is None and narrow else None), found

    def _depth(self, pieces: list[Piece], line: Line) -> float:
        """Return how far the known curve is above a line, mixtures of neighbouring points counted as the curve."""
        of, against = self.axes.of, self.axes.against
        return max(rise_above(of, against, one.first, one.last, line.start, line.slope) for one in pieces)

    def _halved(self, piece: Piece) -> list[Piece]:
        middle = piece.structure.at(0.5 * (piece.first.bound + piece.last.bound))
        if middle is None:
            raise InternalError("a structure holds both ends of a stretch but not its middle")
        return [replace(piece, last=middle), replace(piece, first=middle)]

    def _exact(self, pieces: list[Piece]) -> list[Piece]:
        """Return the same curve with every limit held exactly, where that is possible."""
        held: dict[bytes, Structure] = {}
        for piece in pieces:
            item = piece.structure
            if item.key not in held:
                exact = Structure(self.axes, item.choices, 0.0)
                held[item.key] = exact if exact.possible else item
        if self.axes.straight:
            return _exact_straight(held, pieces)
        return _exact_curved(held, pieces, 0.02 * self.within, self.fine)


def _from(pieces: list[Piece], start: float) -> list[Piece]:
    """Return pieces from a bound on: what only the tolerance reached before it is cut off."""
    kept = [piece for piece in pieces if piece.last.bound > start + sliver(start)] or pieces[-1:]
    first = kept[0].first
    bound = min(max(first.bound, start), kept[0].last.bound)
    return [replace(kept[0], first=replace(first, bound=bound)), *kept[1:]]


def _exact_curved(
    held: dict[bytes, Structure], pieces: list[Piece], depth: float, fine: float
) -> list[Piece]:
    runs: list[Run] = []
    for low, high, one in joined([(p.first.bound, p.last.bound, p.structure) for p in pieces]):
        item = held[one.key]
        start, end = min(low, item.end), min(high, item.end)
        while runs:
            before, _, earlier = runs[-1]
            border = meeting(earlier, item, before, runs[-1][1])
            start = border
            if border > before + sliver(before):
                runs[-1] = (before, border, earlier)
                break
            runs.pop()
        runs.append((start, end, item))
    marks = [piece.last.bound for piece in pieces]
    found: list[Piece] = []
    for low, high, item in runs:
        if high - low <= sliver(high):
            continue
        cut = cut_at_turns(item, [low, *(mark for mark in marks if low < mark < high), high], depth, fine)
        found += [replace(piece, bracket=pieces[_place(marks, piece)].bracket) for piece in cut]
    return found


def _place(marks: list[float], piece: Piece) -> int:
    middle = 0.5 * (piece.first.bound + piece.last.bound)
    return min(int(np.searchsorted(marks, middle)), len(marks) - 1)


def _exact_straight(held: dict[bytes, Structure], pieces: list[Piece]) -> list[Piece]:
    end = max(item.end for item in held.values())
    start = min(pieces[0].first.bound, end)
    if end - start <= sliver(end):
        return pieces
    marks = [piece.last.bound for piece in pieces]
    return [
        replace(piece, bracket=pieces[_place(marks, piece)].bracket)
        for piece in straight_pieces(list(held.values()), start, end)
    ]


@dataclass(frozen=True)
class Under:
    """A line under the first few pieces of a curve, nowhere further below them than `depth`."""

    pieces: int
    line: Line
    depth: float


def under(pieces: list[Piece], tube: float) -> Under:
    """Return a line that stays close under as many pieces in order as it can, from the first on.

    It stays within half of the tube below the curve; with 0 it is the chord of the first piece. Where one piece ends
    lower than the next begins, the curve jumps.
    """
    first = pieces[0]
    p = first.first.bound + 2 * sliver(first.first.bound)
    if tube <= 0:
        q = max(first.last.bound, p)
        return Under(1, Line.through(p, first.first.value, q, first.last.value), 0.0)
    origin = first.first.value - 0.125 * tube
    low, high, count = 0.0, np.inf, 0
    for piece in pieces:
        limits = [_cone(p, origin, piece.first, 0.5 * tube), _cone(p, origin, piece.last, 0.5 * tube)]
        most_low = max([low, *(limit[0] for limit in limits)])
        most_high = min([high, *(limit[1] for limit in limits)])
        if count and most_low > most_high:
            break
        low, high, count = most_low, most_high, count + 1
    q = max(pieces[count - 1].last.bound, p)
    slope = low if not np.isfinite(high) else max(0.5 * (low + high), 0.0)
    line = Line(p, q, origin - slope * p, slope)
    ends = [point for piece in pieces[:count] for point in (piece.first, piece.last)]
    return Under(count, line, max(point.value - line.at(max(point.bound, p)) for point in ends))


def _cone(p: float, origin: float, point: Point, tube: float) -> tuple[float, float]:
    """Return the slopes of lines from the origin that pass within the tube under a point."""
    run = point.bound - p
    if run <= sliver(point.bound):
        return (0.0, np.inf) if origin >= point.value - tube else (np.inf, 0.0)
    return (point.value - tube - origin) / run, (point.value - origin) / run
