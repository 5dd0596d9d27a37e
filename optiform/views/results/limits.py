"""Tells the limits that hold a formula with their prices, and the range of each amount."""

from __future__ import annotations

import math

from optiform.answers.describe.sensible_steps import step
from optiform.answers.model.answer import Answer, Binding, Formula, Line
from optiform.measures.learned import LOGARITHM
from optiform.program.requirement import Requirement
from optiform.tolerances import ROUNDING, TOLERANCE
from optiform.views.words import sentences
from optiform.views.words.blocks import Bar, Block, Bullets, Field, Heading, Paragraph, joined, tabulated
from optiform.views.words.limit_words import (
    asked_of,
    cost_of_step,
    end_of,
    name_of,
    percent_sign,
    step_of,
    step_text,
)
from optiform.views.words.names import Names, names_of
from optiform.views.words.numbers import (
    NOTHING,
    bounded,
    digits_of,
    figure,
    fixed,
    money,
    percent,
)

TITLE = "What holds it there, and what each step costs"
DECADES = "In decades of the measure: 0.3 is twice as much, 0.04 a tenth more, 0.004 a hundredth."
NO_FURTHER = "no way"
ROLES = {
    "essential": "Essential: without any one of these no formula stays within the allowance",
    "interchangeable": "Interchangeable: another of the same function can take its place within the allowance",
    "optional": "Optional: a formula within the allowance does without it and puts nothing in its place",
}
NOT_ALL = "These ranges do not hold all at once: using one of them up uses up the allowance."
RANGES = (
    Field("material", lambda line: line.name, head=True),
    Field("lowest", lambda line: percent(line.low), "decimal"),
    Field("% w/w", lambda line: percent(line.percent), "decimal"),
    Field("highest", lambda line: percent(line.high), "decimal"),
)


def limits(answer: Answer, formula: Formula) -> list[Block]:
    """Return the limits that hold a formula, the dearest first, those without a price last."""
    if not formula.binding:
        return []
    names, unit = names_of(answer), answer.aim_unit
    priced = sorted(filter(_tells, formula.binding), key=lambda item: -(cost_of_step(item) or 0.0))
    rest = [sentences.asked(item.requirement) for item in formula.binding if not _tells(item)]
    blocks: list[Block] = [Heading(f"{TITLE}, {unit}".rstrip(", "), 3)]
    blocks += [Paragraph(DECADES, "quiet")] if unit.startswith(LOGARITHM) else []
    if priced:
        here = {part.key: (row.value, row.digits) for row in formula.slack for part in row.requirements}
        fields = (
            Field("limit", lambda item: name_of(item.requirement, names), head=True),
            Field("asked", lambda item: asked_of(item.requirement)),
            Field(
                "now", lambda item: _now(item.requirement, here.get(item.requirement.key)), "decimal", sheds=1
            ),
            Field("a step", _step, "right"),
            Field(
                "tighter",
                lambda item: NO_FURTHER if _stuck(item) else _money(item, item.marginal_cost, unit),
                "decimal",
            ),
            Field("looser", lambda item: _money(item, item.marginal_cost_back, unit), "decimal"),
            Field("holds", _holds),
        )
        blocks.append(
            tabulated(
                f"Limits of formula {formula.rank}, the dearest first: what a step tighter costs, a step looser saves",
                fields,
                priced,
                under=tuple(_why(item.requirement, names) for item in priced),
                bars=tuple(map(_bar, priced)),
            )
        )
    if any(item.degenerate and None not in (item.marginal_cost, item.marginal_cost_back) for item in priced):
        blocks.append(Paragraph(sentences.DEGENERATE, "quiet"))
    if rest:
        blocks.append(Paragraph(f"Also at its limit, without a price: {'; '.join(rest)}.", "quiet"))
    return blocks


def _tells(item: Binding) -> bool:
    """Tell whether the cost of moving a limit is known."""
    costs = [cost for cost in (item.marginal_cost, item.marginal_cost_back) if cost is not None]
    counts = item.requirement.choice or item.requirement.bound is None
    return any(abs(cost) > ROUNDING for cost in costs) or (item.marginal_cost is None and not counts)


def _stuck(item: Binding) -> bool:
    """Tell whether a limit cannot be tightened at all."""
    return item.marginal_cost is None and not item.requirement.choice


def _size(item: Binding) -> float | None:
    """Return the step whose price is told; None where a limit has no bound."""
    return step_of(item) or (None if item.requirement.bound is None else step(item.requirement))


def _step(item: Binding) -> str:
    size = _size(item)
    return NOTHING if size is None else step_text(size, item.requirement)


def _now(requirement: Requirement, value: tuple[float, int] | None) -> str:
    """Return the value of the formula, in the digits of the bound where it is at the bound."""
    bound = requirement.bound
    if bound is not None and (value is None or abs(value[0] - bound) <= TOLERANCE):
        return f"{bounded(bound)}{percent_sign(requirement)}"
    return NOTHING if value is None else f"{figure(*value)}{percent_sign(requirement)}"


def _money(item: Binding, cost: float | None, unit: str) -> str:
    """Return what a step costs or saves, `NOTHING` where that is not known."""
    if cost is None:
        return NOTHING
    amount = cost * (_size(item) or 1.0)
    if abs(amount) <= ROUNDING:
        return "0"
    text = money(amount, unit).replace("less than ", "<")
    return text if amount > 0 else f"-{text}"


def _holds(item: Binding) -> str:
    """Return the range of bounds over which the price holds."""
    bound = item.requirement.bound
    if bound is None or item.requirement.choice:
        return NOTHING
    ends = [end_of(end, item.requirement).removesuffix(" %") for end in (item.holds_from, item.holds_to)]
    low, high = (bounded(bound) if end == NOTHING else end for end in ends)
    if item.holds_to == math.inf:
        return f"{low}{percent_sign(item.requirement)} or more"
    return NOTHING if low == high else f"{low} to {high}{percent_sign(item.requirement)}"


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


def roles(answer: Answer, formula: Formula) -> list[Block]:
    """Return the range of each amount, which materials can be spared, and what takes their place.

    The ranges stand in a table of their own: beside the grams there is no room for them.
    """
    unit = answer.aim_unit
    held = answer.brief.library.materials if answer.brief is not None else ()
    names = {material.id: material.name for material in held}
    told: list[Block] = []
    for role, words in ROLES.items():
        lines = tuple(_role(line, names, unit) for line in formula.lines if line.role == role)
        told += [Paragraph(f"{words}:"), Bullets(lines)] if lines else []
    if not told:
        return []
    allowance = formula.allowance
    allowed = "" if allowance is None else f" The allowance is {fixed(allowance, digits_of(unit))} {unit}."
    return [
        Heading("Room to move", 3),
        tabulated("How far each amount may go, % w/w", RANGES, formula.lines),
        Paragraph(NOT_ALL + allowed),
        Heading("What it can do without", 3),
        *told,
    ]


def _role(line: Line, names: dict[str, str], unit: str) -> str:
    if line.without is None:
        return line.name if line.function == "water" else f"{line.name}: no formula at all without it"
    instead = joined([names.get(word, word) for word in line.instead])
    place = f", with {instead} instead," if instead else ""
    return f"{line.name}: the best formula without it{place} comes to {fixed(line.without, digits_of(unit, 2))} {unit}"
