"""Turns a trade-off into sentences: its bends, its ends, what was proven."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optiform.answers.tradeoff import Curve, Knee, Stretch, TradeOff
from optiform.views.words.blocks import joined
from optiform.views.words.numbers import INDEX, figure, fixed, short

TENTH = 0.1
SIDES = {"at_least": "at least", "at_most": "at most"}


def heading(found: TradeOff) -> str:
    """Return the title of a trade-off."""
    return f"{found.title}: {found.of} against {found.against}"


def _whole(found: TradeOff) -> bool:
    """Tell whether a bound is a whole number: a count, or an ordinal index."""
    return found.against == "ingredients" or found.against_unit == INDEX


def logarithmic(found: TradeOff) -> bool:
    """Tell whether the bound is on a logarithmic scale, so that its steps are parts of itself."""
    return any(curve.logarithmic[0] for curve in found.curves)


def value(found: TradeOff, number: float | None, *, unit: bool = True) -> str:
    """Return a value of the improved measure with the digits it deserves."""
    text = fixed(number, found.of_digits)
    return f"{text} {found.of_unit}".rstrip() if unit else text


def bound(found: TradeOff, number: float | None, *, unit: bool = True) -> str:
    """Return a bound, one digit finer than the measure is shown, so that neighbours can be told apart."""
    digits = 0 if _whole(found) else found.against_digits + 1
    text = figure(number, 0) if logarithmic(found) else fixed(number, digits)
    return f"{text} {found.against_unit}".rstrip() if unit else text


def digits_apart(found: TradeOff, bounds: Sequence[float]) -> int:
    """Return the decimals, hundredths at least, that tell bounds apart as far as that is worth while."""
    if _whole(found):
        return 0
    least, most = max(found.against_digits + 1, 2), found.against_digits + 4
    different = len(set(bounds))
    return next((n for n in range(least, most) if len({fixed(b, n) for b in bounds}) == different), most)


def price(number: float) -> str:
    """Return a price in two digits."""
    if number == 0:
        return "0"
    digits = max(0, 1 - math.floor(math.log10(abs(number))))
    return "<0.00001" if digits > 5 else fixed(number, digits)


def named(measure: str, unit: str) -> str:
    """Return a measure with its unit."""
    return f"{measure} [{unit}]" if unit else measure


def one(found: TradeOff) -> str:
    """Return one unit of the bound: "point", "EUR/kg", "% w/w"."""
    if logarithmic(found):
        return "a tenth more" if found.side == "at_least" else "a tenth less"
    return {"points": "point", "materials": "material", "": "unit"}.get(
        found.against_unit, found.against_unit
    )


def price_unit(found: TradeOff) -> str:
    """Return the unit of a price along the curve."""
    if logarithmic(found):
        return f"{found.of_unit or found.of} for {one(found)}"
    below = f"({one(found)})" if "/" in one(found) else one(found)
    return f"{found.of_unit or found.of} per {below}"


def price_title(found: TradeOff) -> str:
    """Return the title of a column of prices."""
    return f"{one(found)} costs" if logarithmic(found) else f"price per {one(found)}"


def step_price(found: TradeOff, stretch: Stretch) -> float:
    """Return what one step of the bound costs on a stretch: one of its units, or a tenth of itself."""
    start, end = stretch.start, stretch.end
    if not logarithmic(found) or start.bound == end.bound:
        return stretch.price
    return abs((end.value - start.value) * math.log(1.0 + TENTH) / math.log(end.bound / start.bound))


def asked(found: TradeOff) -> str:
    """Return a sentence on what the curve shows."""
    best = "The least" if found.sense == "minimise" else "The most"
    if found.of == "ingredients" and found.sense == "minimise":
        best = "The fewest"
    return f"{best} {found.of} for each bound on {found.against}, {SIDES[found.side]}."


def proof(found: TradeOff) -> str:
    """Return how far the curve is proven."""
    if found.status == "stopped":
        return (
            "Stopped at the limit before the whole curve was proven: parts without a bracket may be beaten."
        )
    if found.straight and found.against == "ingredients":
        return "Proven: no formula is better at any number of ingredients."
    if found.straight:
        return "Proven: no formula is better anywhere; between the points the curve is straight and exact."
    widest = max((s.bracket or 0.0 for curve in found.curves for s in curve.stretches), default=0.0)
    figure = fixed(max(widest, 0.0001), 4)
    return f"Proven: nowhere does any formula beat the curve by more than {figure} {found.of_unit}.".replace(
        " .", "."
    )


def structure(found: TradeOff) -> str:
    """Return what another structure is."""
    return f"another structure: another choice of {joined(list(found.brief.ranked.differ_in), 'or')}"


def limit(curve: Curve) -> str:
    """Return the third limit of a curve of a family."""
    if curve.third is None:
        return ""
    third = curve.third
    return f"{third.measure} {SIDES[third.side]} {short(third.bound)} {third.unit}".rstrip()


def legend(found: TradeOff, curve: Curve) -> str:
    """Return the third limit of a curve with its main knee."""
    main = [f" (knee {bound(found, knee.bound, unit=False)})" for knee in curve.knees if knee.main]
    return limit(curve) + "".join(main)


def findings(found: TradeOff, curve: Curve) -> tuple[str, ...]:
    """Return the findings on one curve: its ends, free parts, knees, and the brief's own bound."""
    if not curve.stretches:
        return ("Nothing is possible here, whatever the bound.",)
    first, last = curve.stretches[0].start, curve.stretches[-1].end
    if curve.loosest == curve.tightest:
        here = f"{_against(found)}{bound(found, first.bound)}"
        return (f"Nothing to trade: every formula has {here}, the best of them {value(found, first.value)}.",)
    told = [
        f"It reaches from {_against(found)}{bound(found, first.bound)} at {value(found, first.value)} "
        f"to {bound(found, last.bound)} at {value(found, last.value)}."
    ]
    told += [
        f"From {bound(found, part.start, unit=False)} to {bound(found, part.end)} it costs nothing."
        for part in curve.free
        if bound(found, part.start) != bound(found, part.end)
    ]
    told += [knee(found, one) for one in curve.knees]
    told += _brief(found, curve)
    return tuple(told)


def _against(found: TradeOff) -> str:
    """Return the bounded measure before its number, unless the unit says it all: "14 materials"."""
    return "" if found.against == "ingredients" else f"{found.against} "


def knee(found: TradeOff, one: Knee) -> str:
    """Return what happens at a knee."""
    name = "The knee" if one.main else "A knee"
    step = TENTH * one.bound if logarithmic(found) else 1.0
    return (
        f"{name}: beyond {bound(found, one.bound)} ({value(found, one.value)}) the price is "
        f"{price(step * one.after)} {price_unit(found)}, instead of {price(step * one.before)}."
    )


def _brief(found: TradeOff, curve: Curve) -> list[str]:
    told = []
    if curve.here is not None:
        wish = f"The brief asks for {SIDES[found.side]} {bound(found, curve.here.bound)}"
        if curve.here.value is None:
            told.append(f"{wish}, which cannot be reached.")
        else:
            free = (
                ""
                if curve.here.free_to is None
                else f"; as far as {bound(found, curve.here.free_to)} is free"
            )
            told.append(f"{wish}: {value(found, curve.here.value)}{free}.")
    if curve.affords is not None:
        allows = f"The brief's own limit of {value(found, curve.affords.limit)}"
        reached = curve.affords.bound
        told.append(f"{allows} allows {'nothing' if reached is None else bound(found, reached)}.")
    return told
