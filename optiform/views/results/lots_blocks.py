"""How a formula fares over its suppliers' lots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.blocks import Block, Column, Heading, Paragraph, Table, Tone, joined
from optiform.views.render.numbers import fixed, percent

if TYPE_CHECKING:
    from optiform.answers.describe.drawn_lots import LotsDrawn, LotsHeld

METHOD = (
    "Each part with a specification range is drawn from a triangular distribution that peaks at its typical "
    "percentage, independent of the others. Least and most are exact over all lots."
)


def lots_blocks(lots: LotsDrawn | None) -> list[Block]:
    """Return what the lots do to a formula; nothing where no composition varies."""
    if lots is None:
        return []
    blocks: list[Block] = [Heading("Over the suppliers' lots", 3)]
    if not lots.limits:
        words = "No limit depends on the lot of " + joined(list(lots.materials), "or") + "."
        return [*blocks, Paragraph(words)]
    together = (
        f"All limits that depend on the lot hold together in {lots.all_held:,} of {lots.drawn:,} drawn lots "
        f"(seed {lots.seed}) of {joined(list(lots.materials))}."
    )
    tone: Tone = "plain" if lots.all_held == lots.drawn else "caution"
    columns = (
        Column("limit", head=True),
        Column("holds in", "right"),
        Column("least", "decimal", sheds=2),
        Column("typical", "decimal", sheds=3),
        Column("most", "decimal", sheds=1),
    )
    table = Table("Limits over the lots", columns, tuple(_row(limit) for limit in lots.limits))
    return [*blocks, Paragraph(together, tone), table, *_doses(lots), Paragraph(METHOD, "quiet")]


def _row(limit: LotsHeld) -> tuple[str, ...]:
    figures = (fixed(value, 2) for value in (limit.low, limit.value, limit.high))
    return (limit.requirement.title, f"{limit.held:,}", *figures)


def _doses(lots: LotsDrawn) -> list[Block]:
    told: list[Block] = []
    for dose in lots.doses:
        low, high = percent(dose.low), percent(dose.high)
        needed = low if low == high else f"{low} to {high}"
        words = f"To keep the pH, the drawn lots need {needed} % w/w {dose.material}"
        words += "." if dose.within_use else ", which is outside its use range."
        told.append(Paragraph(words, "plain" if dose.within_use else "caution"))
    return told
