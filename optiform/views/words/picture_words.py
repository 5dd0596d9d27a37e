"""The words of the pictures: titles, labels, and what each says to a reader who cannot see it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.blocks import joined
from optiform.views.render.numbers import fixed, percent, short, wanted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.describe.portrait import Curve, Function, Harshness, Portion
    from optiform.answers.model.answer import Formula, Slack

COMPOSITION = "What it is made of"
LIMITS = "Where it stands within what was wanted"
OTHER_LIMITS = "Where it stands within law and library"
COST = "What costs"
MILDNESS = "Who brings the mildness down"
BROUGHT = "Who brings how much of the rest"
CURVE = "How its pH answers to acid and base"
RANKS = "What differs from rank to rank"
REACHABLE = "How far each wish can go while the others hold"
MISSING = (
    "Pictures need a drawing library that is not installed: pip install 'optiform[pictures]'. "
    "The tables show the same numbers."
)
READ_LIMITS = (
    "Each row has its own scale: from bound to bound, or, where one side is open (arrow), as long as the bound is "
    "high. Diamond: at the limit. Ring: inside. Cross: not met."
)
READ_REACHABLE = f"The best value of each wish while the others are met. {READ_LIMITS}"
READ_MILDNESS = "An ordinal index: differences under 5 count as equal, and it is no promise for any skin."
READ_CURVE = (
    "Computed for a typical lot; the range to have ready is that of likely lots. Add in portions and confirm with a "
    "meter."
)


def share(value: float) -> str:
    """Return a share in whole percent, and never a present share as zero."""
    return "<1 %" if 0 < value < 0.5 else f"{fixed(value, 0)} %"


def points(lost: float) -> str:
    """Return what a material takes from the mildness, in whole points."""
    whole = fixed(lost, 0)
    return (
        "less than 1 point"
        if whole == "0" and lost > 0
        else f"-{whole} points"
        if whole != "1"
        else "-1 point"
    )


def weight(part: Harshness) -> str:
    """Return why a material takes so much: how much of it there is, and its index."""
    return f"{share(part.share)} of active matter, at index {fixed(part.index, 0)}"


def amount(row: Slack, value: float | None) -> str:
    """Return a number in the digits of its limit, or in those that its bounds are written with."""
    if value is None:
        return ""
    return percent(value) if row.unit == "% w/w" and value > 0 else fixed(value, _digits(row))


def _digits(row: Slack) -> int:
    written = [short(bound).partition(".")[2] for bound in (row.at_least, row.at_most) if bound is not None]
    return max(row.digits, *map(len, written))


def limit(row: Slack) -> str:
    """Return what is limited, and which of several it is about."""
    return f"{row.limit}: {row.which}" if row.which else row.limit


def value(row: Slack) -> str:
    """Return what the formula has of it."""
    number = amount(row, row.value)
    one = number == "1" and row.unit.isalpha()
    text = f"{number} {row.unit.removesuffix('s') if one else row.unit}".rstrip()
    bound = missed(row)
    return text if bound is None else f"{text} instead of {short(bound)}"


def missed(row: Slack) -> float | None:
    """Return the bound that is not met; None where none is missed."""
    if row.state != "broken":
        return None
    return row.at_least if row.below is not None and row.below < 0 else row.at_most


def standing(row: Slack) -> str:
    """Return in a few words how the formula stands to a limit."""
    if row.state == "at the limit":
        return "at the limit"
    if row.state == "broken":
        return f"off by {room(row, -row.room)}"
    return f"room {room(row, row.room)}"


def room(row: Slack, value: float) -> str:
    """Return how much room there is, and never some room as none."""
    text = amount(row, value)
    smallest = fixed(10.0 ** -_digits(row), _digits(row))
    return text if text.strip("0.") else f"under {smallest}"


def bounds(row: Slack) -> str:
    """Return the bounds of a limit: "8 to 9", "at least 75"."""
    return wanted(row.at_least, row.at_most)


def limits(rows: Sequence[Slack]) -> str:
    """Return what the picture of limits says."""
    states = ("broken", "at the limit", "inside")
    counted = {state: [row.limit for row in rows if row.state == state] for state in states}
    clauses = [
        f"{len(names)} {state}{': ' + joined(names) if state != 'inside' else ''}"
        for state, names in counted.items()
        if names
    ]
    return f"{len(rows)} limits. {'; '.join(clauses)}."


def composition(functions: Sequence[Function]) -> str:
    """Return what the picture of the composition says."""
    return (
        "% w/w by function: "
        + ", ".join(f"{group.name} {percent(group.percent)}" for group in functions)
        + "."
    )


def costs(parts: Sequence[Portion], currency: str) -> str:
    """Return what the picture of cost says."""
    told = [f"{part.name} {fixed(part.value, 2)} ({share(part.share)})" for part in parts[:3]]
    return (
        f"{currency} per kg of formula, the dearest first: {', '.join(told)}; {len(parts)} materials in all."
    )


def mildness(parts: Sequence[Harshness], value: float) -> str:
    """Return what the picture of mildness says."""
    told = [f"{part.name} {points(part.lost)}" for part in parts]
    return f"From 100 down to {fixed(value, 0)}: {', '.join(told)}."


def axis(found: Curve) -> str:
    """Return what is added, and its unit."""
    return f"{found.added}, {found.unit}"


def ready(found: Curve) -> str:
    """Return the dose to have ready."""
    if found.ready is None:
        return ""
    return f"bar: have {percent(found.ready[0])} to {percent(found.ready[1])} {found.unit} ready"


def here(found: Curve) -> str:
    """Return the formula's own place on its curve."""
    pH = f"pH {fixed(found.formula[1], 1)}"
    return f"{pH} at {percent(found.formula[0])} %" if found.kind == "dose" else f"the formula: {pH}"


def window(found: Curve) -> str:
    """Return the wanted window in words."""
    return f"wanted {wanted(*found.window)}"


def curve(found: Curve) -> str:
    """Return what the picture of the pH says."""
    told = [f"pH against {axis(found)}. The formula: {here(found).removeprefix('the formula: ')}."]
    if found.natural_pH is not None:
        told.append(f"Without the acid and base that only set it: pH {fixed(found.natural_pH, 1)}.")
    if found.window != (None, None):
        told.append(f"Wanted: {wanted(*found.window)}.")
    if found.works != (None, None):
        told.append(f"The preservative, {found.system}, works at pH {_works(found)}.")
    return " ".join(told)


def _works(found: Curve) -> str:
    low, high = found.works
    if low is not None and high is not None:
        return f"{short(low)} to {short(high)}"
    return wanted(low, high)


def ranks(formulas: Sequence[Formula], rows: Sequence[tuple[str, tuple[float | None, ...]]]) -> str:
    """Return what the picture of ranks says."""
    names = joined([material for material, _ in rows])
    return f"{len(formulas)} formulas side by side; they differ in {names}. Water makes up the rest."
