"""Chooses the part of a trade-off that is drawn, and the bounds of its table."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optiform.answers.tradeoff import Curve, TradeOff
from optiform.tolerances import LAST_DIGITS, ROUNDING
from optiform.views.words import tradeoff_words as said

ROWS = 12
FLAT = 0.5
"""A curve that begins flat is drawn from so much before its rise, as a part of all that rises."""

MOST_COUNTS = 16
LEVELS = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)
"""Round numbers of one decade, for a bound whose logarithm is what counts."""


def drawn(curves: Sequence[Curve]) -> tuple[float, float]:
    """Return the loosest and the tightest bound that are drawn: of a long flat beginning only the end."""
    shown = [curve for curve in curves if curve.stretches]
    sign = 1.0 if shown[0].tightest >= shown[0].loosest else -1.0
    loosest = min(sign * _drawn_from(curve) for curve in shown)
    tightest = max(sign * curve.tightest for curve in shown)
    return sign * loosest, sign * tightest


def _drawn_from(curve: Curve) -> float:
    """Return the loosest bound of a curve that is drawn; the brief's own is always among them."""
    sign = 1.0 if curve.tightest >= curve.loosest else -1.0
    rest = curve.tightest - curve.costs_from
    if not rest:
        return curve.loosest
    wanted = sign * (curve.costs_from - FLAT * rest)
    if curve.here is not None:
        wanted = min(wanted, sign * curve.here.bound)
    return sign * max(wanted, sign * curve.loosest)


def round_bounds(found: TradeOff, curve: Curve) -> list[float]:
    """Return the bounds of the table: ends, knees, the brief's own, where costs begin, round ones between.

    Of bounds that read the same on the screen the first one named here stays.
    """
    first, last = curve.loosest, curve.tightest
    named = [first, last, *(knee.bound for knee in curve.knees)]
    if curve.here is not None and min(first, last) <= curve.here.bound <= max(first, last):
        named.append(curve.here.bound)
    chosen: dict[str, float] = {}
    for bound in (*named, curve.costs_from, *_round(found, curve)):
        chosen.setdefault(said.bound(found, bound), bound)
    return sorted(chosen.values(), reverse=first > last)


def _round(found: TradeOff, curve: Curve) -> list[float]:
    """Return round bounds over the part that is drawn."""
    first, last = drawn([curve])
    low, high = sorted((first, last))
    if found.against == "ingredients":
        span = [float(n) for n in range(math.ceil(low - ROUNDING), math.floor(high + ROUNDING) + 1)]
        return span[-MOST_COUNTS:] if last > first else span[:MOST_COUNTS]
    if high == low:
        return []
    if curve.logarithmic[0]:
        decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
        levels = (10.0**decade * times for decade in decades for times in LEVELS)
        return [level for level in levels if low <= level <= high]
    step = _step((high - low) / (ROWS - 2))
    return [round(k * step, 9) for k in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * times for times in (1.0, 2.0, 5.0, 10.0) if power * times >= least - LAST_DIGITS)
