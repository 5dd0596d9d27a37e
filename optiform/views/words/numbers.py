"""Formats numbers for a screen: no more digits than they deserve, bounds as they were written."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

from optiform.tolerances import ROUNDING, TOLERANCE

NOTHING = "-"
"""Stands where there is no value."""

SHORT_UNIT = 7
"""A unit of more letters has no place beside every number."""

ALIKE = 0.05
"""Two sides of an interval that differ by less than this part of the longer are told as one half width."""

INDEX = "points"
"""The unit of an ordinal index, which has no decimals and no percent."""


def fixed(value: float | None, digits: int) -> str:
    """Return a number with so many decimals; `NOTHING` for None, nan and infinities.

    A value that rounds to zero is written without a minus sign.
    """
    if value is None or not math.isfinite(value):
        return NOTHING
    text = f"{value:.{max(digits, 0)}f}"
    return text.lstrip("-") if not text.strip("-0.") else text


def change(before: float | None, after: float | None, digits: int) -> str:
    """Return by how much a figure rises or falls, with its sign: "+0.12", "-0.03", "0.00"."""
    if before is None or after is None:
        return NOTHING
    text = fixed(after - before, digits)
    return f"+{text}" if after > before and text.strip("0.") else text


def short(value: float) -> str:
    """Return a bound as short as it can be read back: 11, 0.3, 4.95."""
    return format(Decimal(f"{value:.10g}"), "f")


def places_of(step: float) -> int:
    """Return the decimals that a balance of this step shows."""
    return len(short(step).partition(".")[2])


def percent(value: float | None) -> str:
    """Return an amount in % w/w: two decimals, a third below 0.1 where it says something, never a false zero."""
    if value is None or not math.isfinite(value):
        return NOTHING
    size = abs(value)
    if size == 0:
        return "0"
    if size < 0.0005:
        return "<0.001"
    return fixed(value, 2) if size >= 0.0995 else fixed(value, 3).removesuffix("0")


def span(low: float | None, high: float | None) -> str:
    """Return a range: "4.90 to 6.00", one figure where both print alike, `NOTHING` without ends."""
    if low is None or high is None:
        return NOTHING
    first, last = percent(low), percent(high)
    return first if first == last else f"{first} to {last}"


def figure_text(value: float | None, low: float | None, high: float | None, digits: int) -> str:
    """Return a figure with its decimals; where data lack, a range with its ends rounded outwards: "82 to 91"."""
    if value is not None or low is None or high is None:
        return fixed(value, digits)
    return f"{floored(low, digits)} to {raised(high, digits)}"


def figure(value: float | None, digits: int) -> str:
    """Return a figure as a meter shows it: three significant figures, four where they stand before the point."""
    if value is None or not math.isfinite(value):
        return NOTHING
    size = math.floor(math.log10(abs(float(f"{value:.3g}")))) if value else 0
    if size > 3:
        return f"{float(f'{value:.4g}'):.0f}"
    text = fixed(value, min(digits, max(0, 2 - size)))
    return text if value == 0 or text.strip("-0.") else f"{value:.1g}" if size > -4 else "<0.001"


def decimals_of(value: float, figures: int = 4) -> int:
    """Return how many decimals show a value in so many significant figures."""
    return max(0, figures - 1 - (math.floor(math.log10(abs(value))) if value else 0))


def fine_percent(value: float) -> str:
    """Return an amount in % w/w, fine enough to show a small change: four figures, three decimals at most."""
    return fixed(value, min(3, decimals_of(value)))


def rounded_out(value: float, *, up: bool, most: int = 4) -> str:
    """Return an end of a range in two significant figures, at most so many decimals, rounded outwards."""
    digits = 1 - (math.floor(math.log10(abs(value))) if value else 0)
    return (raised if up else floored)(value, max(0, min(most, digits)))


def give_or_take(
    value: float, low: float, high: float, digits: int, tell: Callable[[float, int], str] = figure
) -> str:
    """Return how far likely values lie from a figure: "± 0.13" where both sides are alike, else "4.6 to 5.3".

    A half width has at most two significant figures, rounded up (JCGM 100:2008, 7.2.6).
    """
    below, above = value - low, high - value
    if above <= 0.0 or abs(above - below) > ALIKE * max(above, below):
        return f"{tell(low, digits)} to {tell(high, digits)}"
    return f"± {rounded_out(max(above, below), up=True, most=max(2, digits))}"


def roughly(low: float, high: float) -> str:
    """Return an interval that trials predict, its ends in two significant figures: "2100 to 3400"."""
    return f"{short(float(f'{low:.2g}'))} to {short(float(f'{high:.2g}'))}"


def bounded(value: float) -> str:
    """Return a bound in at most four significant figures, as short as it can be."""
    return short(float(f"{value:.4g}"))


def apart(value: float, bound: float | None) -> str:
    """Return a value in the fewest figures that differ from a missed bound; "just below 11" if four do not."""
    texts = (bounded(float(f"{value:.{digits}g}")) for digits in (3, 4))
    told = next((text for text in texts if bound is None or float(text) != float(f"{bound:.4g}")), None)
    if told is not None or bound is None:
        return told or bounded(value)
    return f"just {'below' if value < bound else 'above'} {bounded(bound)}"


def unit_of(unit: str) -> str:
    """Return a unit with a blank before it, to follow a number; empty where it is too long for a screen."""
    if unit.startswith("%"):
        return " %"
    return f" {unit}" if 0 < len(unit) <= SHORT_UNIT and unit != "-" else ""


def step_of(bound: float) -> float:
    """Return the step by which a reader moves a bound: 1 for 11 or 75, 0.1 for 2.2 or a pH."""
    size = abs(bound)
    if size > 500:
        return 10.0 ** (math.floor(math.log10(size)) - 1)
    if size >= 5:
        return 1.0
    return 0.1 if size >= 0.5 or size == 0 else 0.01


def inside(end: float, bound: float) -> str | None:
    """Return an end of a range in about three digits, rounded towards the bound.

    None where nothing is left of the way after rounding.
    """
    if not math.isfinite(end):
        return None
    largest = max(abs(end), abs(bound), ROUNDING)
    digits = max(0, 2 - math.floor(math.log10(largest)))
    scale = 10.0**digits
    nudge = TOLERANCE / scale
    rounded = (
        math.floor((end + nudge) * scale) / scale
        if end >= bound
        else math.ceil((end - nudge) * scale) / scale
    )
    if (rounded <= bound) if end >= bound else (rounded >= bound):
        return None
    return short(round(rounded, digits))


def digits_of(unit: str, usual: int = 3) -> int:
    """Return the decimals of an aim in a table: none for an ordinal index."""
    return 0 if unit == INDEX else usual


def money(value: float, unit: str) -> str:
    """Return a price or another effect on the aim: two decimals for money, none for an index, else two digits."""
    size = abs(value)
    if unit == INDEX:
        return "less than 1" if 0 < size < 0.5 else fixed(size, 0)
    if "/kg" in unit:
        return "less than 0.01" if size < 0.005 else fixed(size, 2)
    if size == 0:
        return "0"
    digits = max(0, 1 - math.floor(math.log10(size)))
    return fixed(size, min(digits, 4)) if size >= 0.5 * 0.0001 else "less than 0.0001"


def gained(value: float, unit: str) -> str:
    """Return an effect on the aim with its unit: "0.17 EUR/kg", "1 point"."""
    text = money(value, unit)
    one = unit == INDEX and text in ("1", "less than 1")
    return f"{text} {unit.removesuffix('s') if one else unit}".rstrip()


def floored(value: float, digits: int) -> str:
    """Return a number with so many decimals, rounded down."""
    return _cut(value, digits, math.floor, 1)


def raised(value: float, digits: int) -> str:
    """Return a number with so many decimals, rounded up."""
    return _cut(value, digits, math.ceil, -1)


def _cut(value: float, digits: int, cut: Callable[[float], int], side: int) -> str:
    """Return a number cut to so many decimals, after rounding at a ten-thousandth of the last one."""
    scale = 10.0**digits
    return fixed(cut(value * scale + side * 1e-4) / scale, digits)
