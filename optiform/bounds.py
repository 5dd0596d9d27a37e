"""How a bound is written: as it was typed, or in the figures that a computed one deserves."""

from __future__ import annotations

import math
from decimal import Decimal

TYPED = 4
"""Decimals up to which a bound counts as typed, and is written as it stands."""
PH_DECIMALS = 2
"""What a meter shows."""


def number(value: float) -> str:
    """Write a number as short as it can be read back: 11, 0.3, 4.95."""
    text = format(Decimal(f"{value:.10g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def bound_text(bound: float, side: str | None = None, decimals: int | None = PH_DECIMALS) -> str:
    """Write a bound; one with more figures than anybody types is rounded to the side that still holds.

    Parameters
    ----------
    bound : float
    side : str, optional
        ``at_least`` is rounded up, ``at_most`` down, anything else to the nearest.
    decimals : int, optional
        How many the measure deserves, those of a pH by default; None writes every figure.
    """
    text = number(bound)
    if decimals is None or len(text.partition(".")[2]) <= TYPED:
        return text
    scale = 10.0**decimals
    cut = {"at_least": math.ceil, "at_most": math.floor}.get(side or "", round)
    return number(cut(round(bound * scale, 6)) / scale)


def window_text(low: float | None, high: float | None, decimals: int | None = PH_DECIMALS) -> str:
    """Write two bounds: "4.43 to 4.82", "at least 4", one figure where both are the same, or nothing."""
    if low is None or high is None:
        side, bound = ("at_most", high) if low is None else ("at_least", low)
        return "" if bound is None else f"{side.replace('_', ' ')} {bound_text(bound, side, decimals)}"
    if low == high:
        return bound_text(low, None, decimals)
    decimals = decimals_between(low, high, decimals)
    return f"{bound_text(low, 'at_least', decimals)} to {bound_text(high, 'at_most', decimals)}"


def decimals_between(low: float | None, high: float | None, decimals: int | None) -> int | None:
    """Return so many decimals that two bounds do not cross when they are written."""
    if decimals is None or low is None or high is None or low >= high:
        return decimals
    while float(bound_text(low, "at_least", decimals)) >= float(bound_text(high, "at_most", decimals)):
        decimals += 1
        if decimals > 10:
            return None
    return decimals
