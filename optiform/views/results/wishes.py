"""Tells what each limit of the brief costs when the whole formula may change."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Wish
from optiform.tolerances import HALF
from optiform.views.words import sentences
from optiform.views.words.blocks import Block, Bullets, Field, Heading, Paragraph, tabulated
from optiform.views.words.numbers import INDEX, NOTHING, fixed, gained, money, short

TITLE = "What each wish costs"
WHOLE = (
    "Each was solved again one step to that side, the whole formula free to change: other surfactants, another "
    "thickener, another preservative system."
)
MOST_TOLD = 5


def wishes(wishes: Sequence[Wish], unit: str) -> list[Block]:
    """Return what each limit of the brief costs, as a table and in sentences."""
    if not wishes:
        return []
    ordered = sorted(wishes, key=lambda one: (one.cost is not None, -(one.cost or 0.0), one.requirement.key))
    dear = [
        wish for wish in ordered if wish.cost is None or max(abs(wish.cost), abs(wish.saving or 0.0)) >= HALF
    ]
    idle = [wish.requirement.title for wish in wishes if wish.cost == 0 and not wish.saving]
    fields = (
        Field("wish", lambda wish: wish.requirement.title, head=True),
        Field("tighter", lambda wish: short(wish.tighter), "right"),
        Field(f"costs, {unit}", lambda wish: _cost(wish.cost, "not possible", unit), "right"),
        Field("looser", lambda wish: short(wish.looser), "right", sheds=1),
        Field(f"saves, {unit}", lambda wish: _cost(wish.saving, NOTHING, unit), "right", sheds=1),
    )
    blocks: list[Block] = [Heading(TITLE), tabulated(TITLE, fields, dear)]
    told = [text for wish in ordered if (text := wish_sentence(wish, unit))]
    blocks += [Bullets(tuple(told[:MOST_TOLD]))] if told else []
    if idle:
        blocks.append(Paragraph(f"One step costs nothing either way: {'; '.join(idle)}."))
    free = tuple(text for wish in wishes if (text := free_sentence(wish)))
    if free:
        blocks += [Paragraph("Already free:"), Bullets(free, tone="good")]
    return [*blocks, Paragraph(WHOLE, "quiet")]


def _cost(value: float | None, absent: str, unit: str) -> str:
    if value is None:
        return absent
    if abs(value) < HALF:
        return "nothing"
    return money(value, unit) if unit == INDEX else fixed(value, 3)


def wish_sentence(wish: Wish, unit: str) -> str:
    """Return what one step of a wish costs, in words; empty where it costs nothing."""
    moved = sentences.moved(wish.requirement, wish.tighter)
    if wish.cost is None:
        return f"{moved}: no formula can."
    return "" if abs(wish.cost) < HALF else f"{moved} would cost {gained(wish.cost, unit)} more."


def free_sentence(wish: Wish) -> str:
    """Return how far a target can be raised at no cost; empty where it cannot, or nobody would want it."""
    requirement = wish.requirement
    wanted = requirement.key.section == "targets" and requirement.side == "at_least"
    if wish.free_to is None or not wanted or abs(wish.free_to - (requirement.bound or 0.0)) < wish.step / 10:
        return ""
    return f"{sentences.moved(requirement, wish.free_to)} is met by the best formula as it is."
