"""What is told beyond ranking and conflict: the cost of wishes, what can be spared, and why a material is in or out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.tolerances import HALF
from optiform.views.render.blocks import Block, Bullets, Column, Heading, Paragraph, Table, joined
from optiform.views.render.numbers import (
    INDEX,
    NOTHING,
    digits_of,
    fixed,
    floored,
    gained,
    money,
    percent,
    raised,
    short,
)
from optiform.views.words import sentences

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.model.answer import Answer, Formula, Line, Takeover, Why, Wish
    from optiform.program import Key

WHOLE = (
    "Each was solved again one step to that side, the whole formula free to change: other surfactants, another "
    "thickener, another preservative system."
)
ROLES = {
    "essential": "Essential: without any one of these no formula stays within the allowance",
    "interchangeable": "Interchangeable: another of the same function can take its place within the allowance",
    "optional": "Optional: a formula within the allowance does without it and puts nothing in its place",
}
NOT_ALL = "These ranges do not hold all at once: using one of them up uses up the allowance."
MOST_TOLD = 5


def wish_blocks(wishes: Sequence[Wish], unit: str, gain: str = "saves") -> list[Block]:
    """Return what each limit of the brief costs, as a table and in sentences."""
    if not wishes:
        return []
    rows = tuple(
        (
            wish.requirement.title,
            short(wish.tighter),
            _cost(wish.cost, "not possible", unit),
            short(wish.looser),
            _cost(wish.saving, NOTHING, unit),
        )
        for wish in sorted(wishes, key=_weight)
        if wish.cost is None or max(abs(wish.cost), abs(wish.saving or 0.0)) >= HALF
    )
    idle = [
        wish.requirement.title
        for wish in wishes
        if not wish.cost and wish.cost is not None and not wish.saving
    ]
    columns = (
        Column("wish", head=True),
        Column("tighter", "right"),
        Column(f"costs, {unit}", "right"),
        Column("looser", "right", sheds=1),
        Column(f"{gain}, {unit}", "right", sheds=1),
    )
    blocks: list[Block] = [Heading("What each wish costs"), Table("What each wish costs", columns, rows)]
    told = [text for wish in sorted(wishes, key=_weight) if (text := wish_sentence(wish, unit))]
    blocks += [Bullets(tuple(told[:MOST_TOLD]))] if told else []
    if idle:
        blocks.append(Paragraph(f"One step costs nothing either way: {'; '.join(idle)}."))
    free = tuple(text for wish in wishes if (text := free_sentence(wish)))
    if free:
        blocks += [Paragraph("Already free:"), Bullets(free, tone="good")]
    return [*blocks, Paragraph(WHOLE, "quiet")]


def _weight(wish: Wish) -> tuple[bool, float, Key]:
    """Sort what cannot be tightened first, then the dearest."""
    return (wish.cost is not None, -(wish.cost or 0.0), wish.requirement.key)


def _cost(value: float | None, absent: str, unit: str) -> str:
    if value is None:
        return absent
    if abs(value) < HALF:
        return "nothing"
    return money(value, unit) if unit == INDEX else fixed(value, 3)


def wish_sentence(wish: Wish, unit: str) -> str:
    """Return what one step of a wish costs, in words; empty where it costs nothing."""
    if wish.cost is None:
        return f"{sentences.moved(wish.requirement, wish.tighter)}: no formula can."
    if abs(wish.cost) < HALF:
        return ""
    moved = sentences.moved(wish.requirement, wish.tighter)
    return f"{moved} would cost {gained(wish.cost, unit)} more."


def free_sentence(wish: Wish) -> str:
    """Return how far a target can be raised at no cost; empty where that is nothing to want."""
    requirement = wish.requirement
    wanted = requirement.key.section == "targets" and requirement.side == "at_least"
    if wish.free_to is None or not wanted or abs(wish.free_to - (requirement.bound or 0.0)) < wish.step / 10:
        return ""
    return f"{sentences.moved(requirement, wish.free_to)} is met by the best formula as it is."


def role_blocks(answer: Answer, formula: Formula) -> list[Block]:
    """Return which materials a formula can do without, and what takes their place."""
    unit = answer.aim_unit
    held = answer.brief.library.materials if answer.brief is not None else ()
    names = {material.id: material.name for material in held}
    blocks: list[Block] = []
    for role, words in ROLES.items():
        lines = [line for line in formula.lines if line.role == role]
        if lines:
            blocks += [Paragraph(f"{words}:"), Bullets(tuple(_role(line, names, unit) for line in lines))]
    if not blocks:
        return []
    allowed = (
        ""
        if formula.allowance is None
        else f" The allowance is {fixed(formula.allowance, digits_of(unit))} {unit}."
    )
    return [*_ranges(formula), Paragraph(NOT_ALL + allowed), Heading("What it can do without", 3), *blocks]


def _ranges(formula: Formula) -> list[Block]:
    """Return how far each amount may go, as a table of its own: beside the grams there is no room for it."""
    columns = (
        Column("material", head=True),
        Column("lowest", "decimal"),
        Column("% w/w", "decimal"),
        Column("highest", "decimal"),
    )
    rows = tuple(
        (
            line.name,
            *(NOTHING if end is None else percent(end) for end in (line.low, line.percent, line.high)),
        )
        for line in formula.lines
    )
    return [Heading("Room to move", 3), Table("How far each amount may go, % w/w", columns, rows)]


def _role(line: Line, names: dict[str, str], unit: str) -> str:
    if line.without is None:
        return line.name if line.function == "water" else f"{line.name}: no formula at all without it"
    place = (
        f", with {joined([names.get(word, word) for word in line.instead])} instead," if line.instead else ""
    )
    return f"{line.name}: the best formula without it{place} comes to {fixed(line.without, digits_of(unit, 2))} {unit}"


def why_blocks(answer: Answer, why: Why) -> list[Block]:
    """Return why a material is in or out, and what its price has to do with it."""
    unit, money_unit = answer.aim_unit, f"{why.currency}/kg"
    name = _name(answer, why.material)
    here = why.percent > 0
    reached = f"{fixed(why.best, digits_of(unit, 2))} {unit}"
    best = answer.formulas[0].lines if answer.formulas else ()
    told = [
        f"{name} costs {fixed(why.price, 2)} {money_unit}. "
        + (
            f"The best formula holds {percent(why.percent)} % w/w of it and comes to {reached}."
            if here
            else f"The best formula comes to {reached} and has none of it."
        )
    ]
    blocks: list[Block] = [Heading(f"Why {'' if here else 'not '}{name}")]
    if why.kept_out:
        words = "No formula can do without it, because of:" if here else "It is kept out by:"
        kept = tuple(sentences.asked(item) for item in why.kept_out)
        if not kept:
            kept = ("the rules of the library alone",)
        return [
            *blocks,
            Paragraph(told[0]),
            Paragraph(words),
            Bullets(kept),
            *_prices(why, best, name, money_unit),
        ]
    if why.forced is not None:
        words = "without it" if here else "with it"
        worse = fixed(abs(why.forced - why.best), 3)
        told.append(
            f"The best formula {words} comes to {fixed(why.forced, digits_of(unit, 2))} {unit}, {worse} worse."
        )
    return [*blocks, *(Paragraph(line) for line in told), *_prices(why, best, name, money_unit)]


def _prices(why: Why, best: Sequence[Line], name: str, unit: str) -> list[Block]:
    """Return at which prices the answer stays as it is, and what takes over outside.

    A price below which something holds is rounded down, one above which it holds up.
    """
    here = why.percent > 0
    told = []
    if why.below is None and not here and not why.kept_out and why.forced is not None:
        told.append(f"No price brings {name} in, not even as a gift, as long as cost is all that counts.")
    if why.below is not None:
        words = "another formula takes over, with more of it" if here else "it enters"
        told.append(f"Below {floored(why.below.price, 2)} {unit} {words}: {_takeover(why.below, best)}.")
    if why.above is not None:
        price = raised(why.above.price, 2)
        told.append(f"Above {price} {unit} another formula takes over: {_takeover(why.above, best)}.")
    if here and why.above is not None:
        low = "0" if why.below is None else raised(why.below.price, 2)
        told.append(f"From {low} to {floored(why.above.price, 2)} {unit} the best formula stays as it is.")
    elif here:
        told.append(
            "However dear it gets, the best formula stays as it is, or none is possible with less of it."
        )
    return [Heading("Its price", 3), Bullets(tuple(told))] if told else []


def _takeover(found: Takeover, best: Sequence[Line]) -> str:
    """Return what a formula that takes over does differently, the largest changes first; water follows."""
    before = {line.material: line for line in best if line.function != "water"}
    after = {line.material: line for line in found.lines if line.function != "water"}
    told = []
    for material in before.keys() | after.keys():
        old, new = before.get(material), after.get(material)
        was, now = (0.0 if line is None else line.percent for line in (old, new))
        if percent(was) == percent(now):
            continue
        text = (
            f"{new.name} comes in with {percent(now)} %"
            if old is None and new is not None
            else f"without {old.name}"
            if new is None and old is not None
            else f"{before[material].name}: {percent(now)} % instead of {percent(was)}"
        )
        told.append((-round(abs(now - was), 4), old is not None, material, text))
    return "; ".join(text for *_, text in sorted(told)) or "the same but for the water"


def _name(answer: Answer, material: str) -> str:
    held = answer.brief.library.material if answer.brief is not None else {}
    return held[material].name if material in held else material
