"""Finds what stands out on a curve: flat parts, knees, and where the brief stands."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from optiform.answers.tradeoff.front import Affords, Free, Here, Knee, Knot, Stretch
from optiform.measures import Side
from optiform.tolerances import EQUAL

WORTH = 0.005
"""A flat part narrower than this part of the range is not named."""

SPAN = 0.05
"""Prices before and after a knee are taken over this part of the range."""

STEEPER, NOTABLE = 3.0, 0.5
"""A knee: the price rises this many times, to at least this part of the mean price."""

BULGE = 0.1
"""The main knee is at least this far below the straight line through the ends, both axes from 0 to 1."""

MOST = 3


def free_parts(stretches: Sequence[Stretch], *, whole: bool = False) -> tuple[Free, ...]:
    """Return the parts on which a tighter bound costs nothing, those too narrow to matter left out.

    Parameters
    ----------
    whole : bool
        The bound takes whole numbers only: beyond a jump the next one counts.
    """
    if not stretches:
        return ()
    reach = stretches[-1].end.bound - stretches[0].start.bound
    step = math.copysign(1.0, reach) if whole else 0.0
    found: list[Free] = []
    for stretch in stretches:
        if not _same(stretch.start.value, stretch.end.value):
            continue
        start = stretch.start.bound + (step if stretch.jump > 0 else 0.0)
        last = found[-1] if found else None
        if last is not None and last.end == start and _same(last.value, stretch.start.value):
            found[-1] = replace(last, end=stretch.end.bound)
        else:
            found.append(Free(start, stretch.end.bound, stretch.start.value))
    least = 0.0 if whole else WORTH * abs(reach)
    return tuple(part for part in found if (part.end - part.start) * reach > least * abs(reach))


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= EQUAL * max(1.0, abs(other))


def knees(
    stretches: Sequence[Stretch], at: Callable[[float], float | None], *, whole: bool = False
) -> tuple[Knee, ...]:
    """Return the bounds beyond which a step costs several times as much, in order along the curve.

    Parameters
    ----------
    at : callable
        The value at a bound.
    whole : bool
        The bound takes whole numbers only: a step is one of them.

    Notes
    -----
    The main knee is the knot furthest below the straight line through both ends, with both axes
    scaled to 0 to 1: the point where a front bulges most (Das, Structural Optimization 18 (1999) 107).
    """
    if len(stretches) < 2:
        return ()
    first, last = stretches[0].start, stretches[-1].end
    reach, loss = last.bound - first.bound, abs(last.value - first.value)
    if _same(last.value, first.value):
        return ()
    step = math.copysign(1.0, reach) if whole else SPAN * reach
    found: list[tuple[float, Knee]] = []
    main: tuple[float, Knee] | None = None
    for stretch in stretches[:-1]:
        knot = stretch.end
        share = (knot.bound - first.bound) / reach
        worse = abs(knot.value - first.value) / loss
        knee = _knee(knot, at, step, first.bound, last.bound)
        if main is None or share - worse > main[0]:
            main = (share - worse, knee)
        if knee.after >= STEEPER * knee.before and knee.after * abs(reach) >= NOTABLE * loss:
            found.append((knee.after - knee.before, knee))
    chosen: list[Knee] = []
    if main is not None and main[0] >= BULGE:
        _, knee = main
        chosen.append(Knee(knee.bound, knee.value, knee.before, knee.after, main=True))
    for _, knee in sorted(found, key=lambda one: -one[0]):
        apart = all(abs(knee.bound - other.bound) >= SPAN * abs(reach) for other in chosen)
        if apart and len(chosen) < MOST:
            chosen.append(knee)
    return tuple(sorted(chosen, key=lambda knee: abs(knee.bound - first.bound)))


def _knee(
    knot: Knot, at: Callable[[float], float | None], step: float, loosest: float, tightest: float
) -> Knee:
    """Return the mean prices of a step before and after a bound."""
    low, high = sorted((loosest, tightest))
    prices = []
    for wanted in (knot.bound - step, knot.bound + step):
        other = min(max(wanted, low), high)
        value = at(other)
        if value is None or other == knot.bound:
            prices.append(0.0)
        else:
            prices.append(abs(value - knot.value) / abs(other - knot.bound))
    return Knee(knot.bound, knot.value, prices[0], prices[1])


def standing(
    stretches: Sequence[Stretch], at: Callable[[float], float | None], own: float | None, side: Side
) -> Here | None:
    """Return where the brief's own bound is on a curve."""
    if own is None or not stretches:
        return None
    value = at(own)
    if value is None:
        return Here(own, None, None)
    sign = 1.0 if side == "at_least" else -1.0
    free_to = None
    for stretch in stretches:
        for knot in (stretch.start, stretch.end):
            if _same(knot.value, value) and sign * (knot.bound - own) > 0:
                free_to = knot.bound
    return Here(own, value, free_to)


def afforded(
    stretches: Sequence[Stretch],
    limit: float | None,
    worse: float,
    logarithmic: tuple[bool, bool] = (False, False),
) -> Affords | None:
    """Return how far the bound can go under a limit on the value; `worse` is 1 where a larger one is worse, else -1.

    `logarithmic` is whether stretches are straight in the logarithm of the bound, and of the value.
    """
    if limit is None or not stretches:
        return None
    furthest = None
    for stretch in stretches:
        if worse * (stretch.start.value - limit) > 0:
            break
        furthest = stretch.end.bound
        if worse * (stretch.end.value - limit) > 0:
            over, up = logarithmic
            values = [stretch.start.value, stretch.end.value, limit]
            start, end, here = map(math.log, values) if up else values
            part, ends = (here - start) / (end - start), (stretch.start.bound, stretch.end.bound)
            first, last = map(math.log, ends) if over else ends
            furthest = first + part * (last - first)
            furthest = math.exp(furthest) if over else furthest
            break
    return Affords(limit, furthest)
