"""Checks that the penalty of a soft wish can be stated exactly, or bracketed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

import numpy as np

from optiform.brief.models import Prefer, Target
from optiform.measures import Measure
from optiform.measures.acidity import Acidity
from optiform.measures.amounts import Count
from optiform.measures.learned import curved
from optiform.measures.texture import Viscosity
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats

FULL = 100.0


def preference_faults(
    wish: Prefer, aim: Measure | None, targets: Mapping[str, Target], find: Callable[[str], Measure]
) -> Iterator[tuple[str, str, str]]:
    """Yield what keeps a soft wish from being stated: its key, what is wrong, and what is allowed.

    Parameters
    ----------
    aim : Measure, optional
        What is made small or large; None where that is at fault itself.
    """
    measure = find(wish.measure)
    if isinstance(measure, Acidity | Viscosity) or curved(measure):
        yield "measure", f"'{wish.measure}' is a window, not a number to fall short of", "a target on it"
    elif measure.denominator is not None:
        low, high = base_window(measure.denominator, targets, find)
        if low <= 0 or math.isinf(high):
            message = (
                f"'{wish.measure}' is a mean, and its base has no bounds: what a shortfall weighs is open"
            )
            yield "measure", message, "targets that bound its base from both sides, e.g. active matter"
    if aim is not None and aim.denominator is not None:
        message = f"the aim, {aim.name}, is a mean: nothing can be added to it"
        yield "worth", message, "an aim that is a total, such as cost"


def base_window(
    base: Floats, targets: Mapping[str, Target], find: Callable[[str], Measure]
) -> tuple[float, float]:
    """Return between which values every formula has the base of a mean, by the targets; (0, inf) where that is open.

    Parameters
    ----------
    base : ndarray, shape (n,)
        The denominator of the mean.
    """
    if np.ptp(base) <= ROUNDING * abs(float(base[0])):
        return FULL * float(base[0]), FULL * float(base[0])
    low, high = 0.0, math.inf
    for name, target in targets.items():
        if target.reading is not None:
            continue
        total = find(name)
        if curved(total):
            continue
        if isinstance(total, Acidity | Viscosity | Count) or total.denominator is not None:
            continue
        if np.array_equal(total.numerator, base):
            low = max(low, (target.at_least or 0.0) - total.offset)
            high = min(high, (math.inf if target.at_most is None else target.at_most) - total.offset)
    return low, high
