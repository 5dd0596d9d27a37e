"""What a price list does to a folder of products, in blocks and as rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views import csv_table
from optiform.views.blocks import Block, Bullets, Column, Heading, Paragraph, Table
from optiform.views.numbers import fixed, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.recost import Recosted

WORDS = {
    "kept": "same formula stays best",
    "changed": "another formula is best now",
    "broken": "cannot be met at the new prices",
    "freed": "can be met at the new prices only",
    "impossible": "cannot be met, before or after",
    "fault": "could not be read",
}
COLUMNS = (
    "file", "kind", "outcome", "title", "currency", "cost_before", "cost_same", "cost_after", "saving",
    "structure_before", "structure_after", "faults",
)  # fmt: skip
CAUTION = (
    "Any change to a formula, however small, opens stability, the challenge test and the safety assessment again; "
    "a formula that stays the same keeps them."
)


def recost_blocks(results: Sequence[Recosted], passed_over: Sequence[str] = ()) -> list[Block]:
    """Return one row per product, then what each change consists of, then what could not be read."""
    unit = next((result.currency for result in results if result.currency), "")
    columns = (
        Column("product", head=True),
        Column("before", "decimal", note=f"all costs in {unit}/kg of contents"),
        Column("unchanged", "decimal", note="unchanged: the old formula at the new prices"),
        Column("best now", "decimal"),
        Column("saved", "decimal", note="saved: by taking the formula that is best now"),
        Column("what happens"),
    )
    rows = tuple(
        (
            result.title or result.name,
            *(
                fixed(cost, 2)
                for cost in (result.cost_before, result.cost_same, result.cost_after, result.saving)
            ),
            WORDS[result.outcome] if result.kind == "brief" or result.faults else "priced as it is",
        )
        for result in results
    )
    blocks: list[Block] = [
        Heading("Products at the new prices", 1),
        Table("Products at the new prices", columns, rows),
        *_changes(results),
        *_faults(results),
    ]
    if passed_over:
        blocks.append(
            Paragraph(f"Passed over, neither brief nor formula: {', '.join(passed_over)}.", "quiet")
        )
    return [*blocks, Heading("Caution"), Paragraph(CAUTION, "caution")]


def _changes(results: Sequence[Recosted]) -> list[Block]:
    changed = [result for result in results if result.outcome == "changed"]
    if not changed:
        return []
    items = tuple(
        f"{result.title}: "
        + "; ".join(f"{name} {percent(old)} to {percent(new)} %" for name, old, new in result.changes)
        for result in changed
    )
    return [Heading("What changes, % w/w"), Bullets(items)]


def _faults(results: Sequence[Recosted]) -> list[Block]:
    faults = tuple(fault for result in results for fault in result.faults)
    return [Heading("What could not be used"), Bullets(faults, tone="bad")] if faults else []


def recost_table(results: Sequence[Recosted]) -> str:
    """Return one CSV row per product, every digit."""
    return csv_table.table(
        COLUMNS,
        (
            (
                result.name, result.kind, result.outcome, result.title, result.currency, result.cost_before,
                result.cost_same, result.cost_after, result.saving, "; ".join(result.structure_before),
                "; ".join(result.structure_after), "; ".join(result.faults),
            )
            for result in results
        ),
    )  # fmt: skip
