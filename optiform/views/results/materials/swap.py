"""Tells what a swap of materials changes."""

from __future__ import annotations

from optiform.answers.bench.swapping import Swap
from optiform.views.results.weighing import beside, broken, figure_name, fine
from optiform.views.words import sentences
from optiform.views.words.blocks import Block, Column, Heading, Paragraph, Table
from optiform.views.words.numbers import fine_percent, short

HOLDS = "It breaks nothing that the formula did not break before."
SAME_LABEL = "The ingredient list stays as it is."


def swap_blocks(found: Swap) -> list[Block]:
    """Return what a swap changes: amounts, figures, label and limits."""
    amounts = (
        Column("material", head=True),
        Column("before, % w/w", "decimal"),
        Column("after, % w/w", "decimal"),
    )
    blocks: list[Block] = [
        Heading(f"{found.new_name} instead of {found.old_name}", 1),
        Paragraph(
            f"The same {found.what} stands: {short(round(found.strength_before, 4))} % in the one, "
            f"{short(round(found.strength_after, 4))} % in the other. Everything else stays as it is."
        ),
        Table("What changes in the formula", amounts, _amounts(found)),
    ]
    figures = _figures(found)
    if figures:
        columns = (Column("measure", head=True), Column("before", "decimal"), Column("after", "decimal"))
        blocks.append(Table("What changes in its figures", columns, figures))
    blocks.append(Paragraph(_label(found)))
    blocks += broken("It breaks, and did not before:", found.broken)
    blocks += broken("It no longer breaks:", found.mended, "plain")
    blocks += [] if found.broken else [Paragraph(HOLDS, "good")]
    return [*blocks, *beside((*found.formula.notes, *found.swapped.notes))]


def _amounts(found: Swap) -> tuple[tuple[str, str, str], ...]:
    planned = {line.material: line.percent for line in found.planned.lines}
    names = {line.material: line.name for line in (*found.planned.lines, *found.swapped.lines)}
    order = [name for name in names if name != found.new]
    order.insert(order.index(found.old) + 1, found.new)
    swapped = {line.material: line.percent for line in found.swapped.lines}
    rows = [(name, planned.get(name, 0.0), swapped.get(name, 0.0)) for name in order]
    return tuple(
        (names[name], fine_percent(before) if before else "0", fine_percent(after) if after else "0")
        for name, before, after in rows
        if fine_percent(before) != fine_percent(after)
    )


def _figures(found: Swap) -> tuple[tuple[str, str, str], ...]:
    """Return the figures that a reader would see change."""
    after = {figure.measure: figure for figure in found.swapped.figures}
    rows = []
    for figure in found.planned.figures:
        other = after.get(figure.measure)
        told = (fine(figure.value, figure), fine(other.value if other is not None else None, figure))
        if told[0] != told[1]:
            rows.append((figure_name(figure), *told))
    return tuple(rows)


def _label(found: Swap) -> str:
    before, after = sentences.listed(found.planned), sentences.listed(found.swapped)
    return SAME_LABEL if before == after else f"The ingredient list becomes: {after}. It was: {before}."
