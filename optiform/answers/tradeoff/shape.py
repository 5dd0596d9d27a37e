"""What stands out on a curve: flat parts, knees, and where the brief stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.tradeoff.front import Affords, Free, Here, Knee

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optiform.answers.tradeoff.front import Stretch
    from optiform.measures import Side

FLAT = 1e-6
"""A change of the value by less than this part of it is none."""

WORTH = 0.005
"""A flat part narrower than this part of the range is not named."""

SPAN = 0.05
"""Prices before and after a knee are taken over this part of the range."""

STEEPER, NOTABLE = 3.0, 0.5
"""A knee: the price rises this many times, to at least this part of the mean price."""

BULGE = 0.1
"""The main knee is at least this far below the straight line through the ends, both axes from 0 to 1."""

MOST = 3


def free_parts(stretches: Sequence[Stretch]) -> tuple[Free, ...]:
    """Return the parts on which a tighter bound costs nothing, those too narrow to matter left out."""
    if not stretches:
        return ()
    reach = abs(stretches[-1].end.bound - stretches[0].start.bound)
    found: list[list[float]] = []
    for stretch in stretches:
        flat = abs(stretch.end.value - stretch.start.value) <= FLAT * max(1.0, abs(stretch.start.value))
        if not flat:
            continue
        goes_on = found and found[-1][1] == stretch.start.bound
        if goes_on and abs(found[-1][2] - stretch.start.value) <= FLAT * max(1.0, abs(stretch.start.value)):
            found[-1][1] = stretch.end.bound
        else:
            found.append([stretch.start.bound, stretch.end.bound, stretch.start.value])
    return tuple(Free(a, b, value) for a, b, value in found if reach > 0 and abs(b - a) > WORTH * reach)


def knees(stretches: Sequence[Stretch], at: Callable[[float], float | None]) -> tuple[Knee, ...]:
    """Return the bounds beyond which a step costs several times as much, in order along the curve.

    Parameters
    ----------
    stretches : sequence of Stretch
    at : callable
        The value at a bound.

    Notes
    -----
    The main knee is the knot furthest below the straight line through both ends, with both axes
    scaled to 0 to 1: the point where a front bulges most (Das, Structural Optimization 18 (1999) 107).
    """
    if len(stretches) < 2:
        return ()
    first, last = stretches[0].start, stretches[-1].end
    reach, loss = last.bound - first.bound, abs(last.value - first.value)
    if loss <= FLAT * max(1.0, abs(first.value)):
        return ()
    found: list[tuple[float, Knee]] = []
    main: tuple[float, Knee] | None = None
    for stretch in stretches[:-1]:
        knot = stretch.end
        share = (knot.bound - first.bound) / reach
        worse = abs(knot.value - first.value) / loss
        knee = _knee(knot.bound, knot.value, at, reach, first.bound, last.bound)
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
    bound: float,
    value: float,
    at: Callable[[float], float | None],
    reach: float,
    loosest: float,
    tightest: float,
) -> Knee:
    """Return the mean prices of a step before and after a bound."""
    step = SPAN * reach
    low, high = sorted((loosest, tightest))
    before = min(max(bound - step, low), high)
    after = min(max(bound + step, low), high)
    paid = [
        0.0 if other == bound else abs((at(other) or 0.0) - value) / abs(other - bound)
        for other in (before, after)
    ]
    return Knee(bound, value, paid[0], paid[1])


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
            same = abs(knot.value - value) <= FLAT * max(1.0, abs(value))
            if same and sign * (knot.bound - own) > 0:
                free_to = knot.bound
    return Here(own, value, free_to)


def afforded(stretches: Sequence[Stretch], limit: float | None, worse: float) -> Affords | None:
    """Return how far the bound can go under a limit on the value.

    Parameters
    ----------
    stretches : sequence of Stretch
    limit : float, optional
    worse : float
        1 where a larger value is worse, else -1.
    """
    if limit is None or not stretches:
        return None
    furthest = None
    for stretch in stretches:
        if worse * (stretch.start.value - limit) > 0:
            break
        furthest = stretch.end.bound
        if worse * (stretch.end.value - limit) > 0:
            part = (limit - stretch.start.value) / (stretch.end.value - stretch.start.value)
            furthest = stretch.start.bound + part * (stretch.end.bound - stretch.start.bound)
            break
    return Affords(limit, furthest)
