"""Makes the first screen of the sheets of a formula."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optiform.library.typed.matching import Match
from optiform.sheets.sheet import Sheet
from optiform.views.first.shared_parts import listed, read_as
from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import Block, Heading, Paragraph, ask_next
from optiform.views.words.names import Names
from optiform.views.words.numbers import fixed, short

TRIAL = "A candidate to trial, not a finished product: --full has every caution."


def sheet_first(sheet: Sheet, matched: Sequence[Match] = ()) -> list[Block]:
    """Return the parts of a sheet in short, what the formula breaks first."""
    blocks: list[Block] = [
        Heading(
            sheet.title,
            1,
            aside=f"{short(sheet.batch_g)} g at {fixed(sheet.cost_per_kg, 2)} {sheet.currency}/kg",
        ),
        Paragraph(f"{sheet.library}.", "quiet"),
    ]
    blocks += read_as(matched)
    caption = words.breaks(sheet.breaks).removesuffix(":")
    names = Names(
        [] if sheet.batch is None else [(line.material, line.name) for line in sheet.batch.batch.lines]
    )
    blocks += listed(caption, [names.said(text) for text in sheet.breaks], folds=1, keeps=3)
    blocks += [Paragraph(text) for text in _parts(sheet)]
    particular = sheet.cautions[:1]
    blocks.append(Paragraph(" ".join((*particular, TRIAL)), "caution"))
    parts = "|".join(
        ("card", *(name for name in ("batch", "label", "cost", "shopping") if getattr(sheet, name)))
    )
    return [
        *blocks,
        *ask_next(f"optiform sheet FORMULA --batch MASS --part {parts}", "optiform sheet ... --full"),
    ]


def _parts(sheet: Sheet) -> Iterator[str]:
    """Yield each part in short."""
    if sheet.batch is not None:
        batch, steps = sheet.batch.batch, len(sheet.batch.procedure.steps)
        light_ones = [line.name for line in batch.lines if line.too_light]
        told = f"; too light for the balance: {'; '.join(light_ones)}" if light_ones else ""
        yield f"Batch: {len(batch.lines)} materials on a balance of {short(batch.balance_g)} g, {steps} steps{told}."
    if sheet.label is not None:
        blanks = len(sheet.label.blanks)
        yield f"{sheet.label.listed.text}. {blanks} more particulars to fill in."
    if sheet.cost is not None:
        cost = sheet.cost
        parts = ", ".join(f"{part.part} {fixed(part.per_unit, 2)}" for part in cost.parts)
        yield f"One unit costs {fixed(cost.total, 2)} {cost.currency}: {parts}."
    if sheet.shopping is not None:
        bought = sum(bool(line.packs) for line in sheet.shopping.lines)
        yield f"Shopping: {bought} materials to buy. {words.shopping_summary(sheet.shopping)}"
