"""How a formula fares over its suppliers' lots: blocks for a screen, fields for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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


def lots_fields(lots: LotsDrawn | None) -> dict[str, Any] | None:
    """Return what the lots do to a formula as JSON has it."""
    if lots is None:
        return None
    return {
        "drawn": lots.drawn,
        "seed": lots.seed,
        "distribution": "triangular",
        "materials": lots.materials,
        "all_held": lots.all_held,
        "limits": [
            {
                "requirement": limit.requirement.title,
                "measure": limit.requirement.measure,
                "side": limit.requirement.side,
                "bound": limit.requirement.bound,
                "held": limit.held,
                "value": limit.value,
                "low": limit.low,
                "high": limit.high,
            }
            for limit in lots.limits
        ],
        "doses": [
            {"material": dose.material, "low": dose.low, "high": dose.high, "within_use": dose.within_use}
            for dose in lots.doses
        ],
        "open_ended": lots.open_ended,
    }
