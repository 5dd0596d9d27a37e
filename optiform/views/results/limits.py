"""What holds a formula where it is: each limit, what one step of it costs or saves, and how far that holds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from optiform.answers.describe.sensible_steps import step
from optiform.views.words import sentences
from optiform.views.words.blocks import TIED, Bar, Block, Field, Heading, Paragraph, tabulated
from optiform.views.words.names import Names, names_of
from optiform.views.words.numbers import INDEX, NOTHING, bounded, figure, inside, money, short, unit_of

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer, Binding, Formula
    from optiform.program.requirement import Requirement

TITLE = "What holds it there, and what each step costs"
NO_FURTHER = "no way"
LIGHT = 1e-9
AT_BOUND = 1e-6
FIVE = 5


class Row(NamedTuple):
    """One limit as it is told: what it asks, what the formula has, what a step costs and saves."""

    name: str
    asked: str
    now: str
    step: str
    tighter: str
    looser: str
    holds: str


def limits(answer: Answer, formula: Formula) -> list[Block]:
    """Return the limits that hold a formula, the dearest first; what has no price comes last."""
    if not formula.binding:
        return []
    names, unit = names_of(answer), answer.aim_unit
    priced = sorted(filter(_tells, formula.binding), key=lambda item: -(cost_of_step(item) or 0.0))
    rest = [names.asked(item.requirement) for item in formula.binding if not _tells(item)]
    blocks: list[Block] = [Heading(TITLE, 3)]
    if priced:
        here = {part.key: (row.value, row.digits) for row in formula.slack for part in row.requirements}
        fields = (
            Field("limit", lambda row: row.name, head=True),
            Field("asked", lambda row: row.asked),
            Field("now", lambda row: row.now, "decimal", sheds=2),
            Field("a step", lambda row: row.step, "right", sheds=3),
            Field(f"tighter costs, {unit}", lambda row: row.tighter, "decimal"),
            Field(f"looser saves, {unit}", lambda row: row.looser, "decimal"),
            Field("holds", lambda row: row.holds, sheds=1),
        )
        rows = [_row(item, here, names, unit) for item in priced]
        blocks.append(
            tabulated(
                f"Limits of formula {formula.rank}, the dearest first",
                fields,
                rows,
                under=tuple(_why(item.requirement, names) for item in priced),
                bars=tuple(map(_bar, priced)),
            )
        )
    if any(item.degenerate and None not in (item.marginal_cost, item.marginal_cost_back) for item in priced):
        blocks.append(Paragraph(sentences.DEGENERATE, "quiet"))
    if rest:
        blocks.append(Paragraph(f"Also at its limit, without a price: {'; '.join(rest)}.", "quiet"))
    return blocks


def dearest(formula: Formula) -> list[Binding]:
    """Return the limits whose next step costs most; those that meet in one corner, at one bound and one price, once.

    Of such the one stays that the brief states.
    """
    found: dict[tuple[float | None, str, float], Binding] = {}
    for item in sorted(formula.binding, key=lambda one: one.requirement.origin != "brief"):
        cost = cost_of_step(item)
        if cost is not None and cost > 0.0:
            corner = (item.requirement.bound, item.requirement.unit, round(item.marginal_cost or 0.0, 6))
            found.setdefault(corner, item)
    return sorted(found.values(), key=lambda item: -(cost_of_step(item) or 0.0))[:FIVE]


def cost_of_step(item: Binding) -> float | None:
    """Return what one step of a limit costs; None where nothing is known of one."""
    size, cost = step_of(item), item.marginal_cost
    return None if size is None or cost is None or cost <= LIGHT else cost * size


def step_of(item: Binding) -> float | None:
    """Return one sensible step of a limit, or a smaller one for which its price still holds; None where none does."""
    requirement = item.requirement
    if requirement.bound is None or requirement.side is None:
        return None
    if requirement.choice:
        return 1.0
    size, bound = step(requirement), requirement.bound
    end = item.holds_from if requirement.side == "at_most" else item.holds_to
    smaller = (size, size / 5.0, 0.0) if size == 5.0 else (size, size / 10.0, size / 100.0)
    for one in smaller:
        if one and (end is None or abs(end - bound) >= one * (1.0 - 1e-6)):
            return float(f"{one:.3g}")
    return None


def name_of(requirement: Requirement, names: Names) -> str:
    """Return what a limit is called in a table that says beside it what it asks."""
    return (
        names.limit(requirement)
        if not requirement.choice
        else names.said(requirement.tail or requirement.title)
    )


def asked_of(requirement: Requirement) -> str:
    """Return what a limit asks: "at least 11 %"."""
    if requirement.bound is None or requirement.side is None:
        return ""
    words = {"at_least": "at least", "at_most": "at most"}.get(requirement.side, "exactly")
    return f"{words} {bounded(requirement.bound)}{_percent(requirement)}".replace(" ", TIED)


def reach_of(item: Binding) -> str:
    """Return up to which bound a price holds, rounded so that it still does; `NOTHING` where it is not known."""
    requirement = item.requirement
    upwards = requirement.side != "at_most"
    return _end(item.holds_to if upwards else item.holds_from, requirement)


def _end(end: float | None, requirement: Requirement) -> str:
    if end is None or requirement.bound is None or requirement.choice:
        return NOTHING
    shown = inside(end, requirement.bound)
    if shown is None:
        return NOTHING
    return (shown.partition(".")[0] if requirement.unit == INDEX else shown) + _percent(requirement)


def _percent(requirement: Requirement) -> str:
    """Return the sign of a percentage, the one unit that stands behind every number."""
    unit = "" if requirement.choice else unit_of(requirement.unit)
    return unit if unit == " %" else ""


def _tells(item: Binding) -> bool:
    """Tell whether anything is known of what moving a limit costs."""
    return bool(sentences.priced(item))


def _row(
    item: Binding, here: dict[object, tuple[float, int]], names: Names, unit: str
) -> Row:
    requirement = item.requirement
    size = step_of(item) or (None if requirement.bound is None else step(requirement))
    value = here.get(requirement.key)
    tighter = NO_FURTHER if item.marginal_cost is None and not requirement.choice else _money(item.marginal_cost, size, unit)
    counted = "" if requirement.choice else unit_of(requirement.unit)
    return Row(
        name_of(requirement, names),
        asked_of(requirement),
        _now(requirement, value),
        NOTHING if size is None else f"{short(size)}{counted}",
        tighter,
        _money(item.marginal_cost_back, size, unit),
        _holds(item),
    )


def _now(requirement: Requirement, value: tuple[float, int] | None) -> str:
    """Return what the formula has, in the figures of the bound where it stands at it."""
    bound = requirement.bound
    if bound is not None and (value is None or abs(value[0] - bound) <= AT_BOUND):
        return f"{bounded(bound)}{_percent(requirement)}"
    return NOTHING if value is None else f"{figure(*value)}{_percent(requirement)}"


def _money(cost: float | None, size: float | None, unit: str) -> str:
    """Return what a step costs or saves, `NOTHING` where that is not known."""
    if cost is None:
        return NOTHING
    amount = cost * (1.0 if size is None else size)
    if abs(amount) <= LIGHT:
        return "0"
    text = money(amount, unit).replace("less than ", "<")
    return text if amount > 0 else f"-{text}"


def _holds(item: Binding) -> str:
    """Return between which bounds the price holds."""
    bound = item.requirement.bound
    if bound is None or item.requirement.choice:
        return NOTHING
    ends = [_end(end, item.requirement).removesuffix(" %") for end in (item.holds_from, item.holds_to)]
    low, high = (bounded(bound) if end == NOTHING else end for end in ends)
    return NOTHING if low == high else f"{low} to {high}{_percent(item.requirement)}"


def _why(requirement: Requirement, names: Names) -> str:
    """Return who asks for a limit and why, where that is not the brief."""
    if requirement.origin in ("brief", "balance"):
        return ""
    return names.said(": ".join(part for part in (requirement.origin, requirement.why) if part))


def _bar(item: Binding) -> Bar | None:
    """Return the range of a price for a drawing: its bound in the middle of twice the wider side."""
    bound = item.requirement.bound
    if bound is None or item.requirement.choice:
        return None
    low = bound if item.holds_from is None or not math.isfinite(item.holds_from) else item.holds_from
    high = bound if item.holds_to is None or not math.isfinite(item.holds_to) else item.holds_to
    widest = max(bound - low, high - bound)
    if widest <= 0:
        return None
    return Bar(0.5 - (bound - low) / widest / 2, 0.5, 0.5 + (high - bound) / widest / 2)

