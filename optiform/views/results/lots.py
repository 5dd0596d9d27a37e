"""How a formula fares over its suppliers' lots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words.blocks import Block, Field, Heading, Paragraph, Tone, joined, tabulated
from optiform.views.words.numbers import fixed, percent

if TYPE_CHECKING:
    from optiform.answers.describe.drawn_lots import LotsDrawn

TITLE = "Over the suppliers' lots"
METHOD = (
    "Each part with a specification range is drawn from a triangular distribution that peaks at its typical "
    "percentage, independent of the others. Least and most are exact over all lots."
)


LIMITS = (
    Field("limit", lambda limit: limit.requirement.title, head=True),
    Field("holds in", lambda limit: f"{limit.held:,}", "right"),
    Field("least", lambda limit: fixed(limit.low, 2), "decimal", sheds=2),
    Field("typical", lambda limit: fixed(limit.value, 2), "decimal", sheds=3),
    Field("most", lambda limit: fixed(limit.high, 2), "decimal", sheds=1),
)


def lots_blocks(lots: LotsDrawn | None) -> list[Block]:
    """Return what the lots do to a formula; nothing where no composition varies."""
    if lots is None:
        return []
    if not lots.limits:
        words = "No limit depends on the lot of " + joined(list(lots.materials), "or") + "."
        return [Heading(TITLE, 3), Paragraph(words)]
    together = (
        f"All limits that depend on the lot hold together in {lots.all_held:,} of {lots.drawn:,} drawn lots "
        f"(seed {lots.seed}) of {joined(list(lots.materials))}."
    )
    tone: Tone = "plain" if lots.all_held == lots.drawn else "caution"
    table = tabulated("Limits over the lots", LIMITS, lots.limits)
    return [Heading(TITLE, 3), Paragraph(together, tone), table, *_doses(lots), Paragraph(METHOD, "quiet")]


def _doses(lots: LotsDrawn) -> list[Block]:
    told: list[Block] = []
    for dose in lots.doses:
        low, high = percent(dose.low), percent(dose.high)
        needed = low if low == high else f"{low} to {high}"
        words = f"To keep the pH, the drawn lots need {needed} % w/w {dose.material}"
        words += "." if dose.within_use else ", which is outside its use range."
        told.append(Paragraph(words, "plain" if dose.within_use else "caution"))
    return told
