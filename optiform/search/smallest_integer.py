"""Finds the least whole number that works, where a relaxation is quick to ask and a formula is not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.search import incumbent

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from optiform.search.relaxation import Mover
    from optiform.solver import Outcome

    Bounds = Callable[[int], Mapping[int, float]]


def least(mover: Mover, bounds: Bounds, most: int, near: float = 0.0) -> tuple[int, Outcome] | None:
    """Return the least number from 0 to `most` at whose bounds a formula is possible, with one there.

    Parameters
    ----------
    mover : Mover
    bounds : callable
        At which bounds requirements are held at a number; what works at one works at every larger one.
    most : int
    near : float
        Part of the number itself within which it need not be the least.

    Notes
    -----
    Mixtures never ask for more, and come first. A formula that works is followed down to the least
    number that its own choices need. Then less is asked for, whatever the choices: a little less
    first, since it may well be the least already, then half way.
    """
    start = _threshold(mover, bounds, -1, most, near)
    if start is None:
        return None
    bad, number, stride = -1, start, max(1, int(near * start))
    while (found := mover.found_within(bounds(number))).values is None:
        if number >= most:
            return None
        bad, number, stride = number, min(most, number + stride), 2 * stride
    if number == start:
        return number, found
    good, formula, first = number, found, True
    while True:
        if found.values is not None:
            with mover.session.trial():
                incumbent.hold(mover.session, mover.program, found.values)
                good = _threshold(mover, bounds, bad, number, near) or number
            formula = found
        else:
            bad = number
        if good - bad <= max(1, int(near * good)):
            return good, formula
        number = good - max(1, int(near * good)) if first else (good + bad) // 2
        found, first = mover.found_within(bounds(number)), False


def _threshold(mover: Mover, bounds: Bounds, bad: int, most: int, near: float) -> int | None:
    """Return the least number above `bad` at which a mixture is possible; None where there is none."""
    stride, good = 1, bad + 1
    while not mover.mixable_within(bounds(good)):
        if good >= most:
            return None
        bad, stride = good, 2 * stride
        good = min(most, good + stride)
    while good - bad > max(1, int(near * good)):
        middle = (good + bad) // 2
        if mover.mixable_within(bounds(middle)):
            good = middle
        else:
            bad = middle
    return good
