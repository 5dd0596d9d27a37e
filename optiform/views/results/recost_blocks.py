"""What a price list does to a folder of products, in blocks and as rows."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from optiform.views.data import csv_table
from optiform.views.render.blocks import Block, Bullets, Column, Heading, Paragraph, Table
from optiform.views.render.numbers import fixed, percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.answers.recost import Recosted, Recosting

WORDS = {
    "kept": "the same formula stays best",
    "adjusted": "other amounts of the same choices are best now",
    "changed": "another formula is best now",
    "broken": "cannot be met at the new prices",
    "freed": "can be met at the new prices only",
    "impossible": "cannot be met, before or after",
    "fault": "could not be used",
    "failed": "this program failed",
}
PRICED = "priced as it is"
COLUMNS = (
    "file", "kind", "outcome", "title", "currency", "cost_before", "cost_same", "cost_after", "saving",
    "structure_before", "structure_after", "breaks", "faults",
)  # fmt: skip
NAMED = 10
"""Names that are listed before the rest is counted."""

CAUTION = (
    "Any change to a formula, however small, opens stability, the challenge test and the safety assessment again; "
    "a formula that stays the same keeps them."
)


def recost_blocks(found: Recosting) -> list[Block]:
    """Return how many fare how, one row per product, what each change consists of, and what had no part in it."""
    results = found.products
    units = list(dict.fromkeys(result.currency for result in results if result.currency))
    unit = "/".join([*(units if len(units) == 1 else ["currency of the library"]), "kg of contents"])
    columns = (
        Column("product", head=True),
        *((Column("currency"),) if len(units) > 1 else ()),
        Column("before", "decimal", note=f"all costs in {unit}"),
        Column("unchanged", "decimal", note="unchanged: the old formula at the new prices"),
        Column("best now", "decimal"),
        Column("saved", "decimal", note="saved: by taking the formula that is best now"),
        Column("what happens"),
    )
    names = _names(results)
    rows = tuple(
        (
            names[result.key],
            *((result.currency,) if len(units) > 1 else ()),
            *(
                fixed(cost, 2)
                for cost in (result.cost_before, result.cost_same, result.cost_after, result.saving)
            ),
            _words(result),
        )
        for result in results
    )
    return [
        Heading("Products at the new prices", 1),
        Paragraph(_summary(results)),
        Table("Products at the new prices", columns, rows),
        *_changes(results, names),
        *_breaks(results, names),
        *_faults(results),
        *_no_part(found, len(units) > 1),
        Heading("Caution"),
        Paragraph(CAUTION, "caution"),
    ]


def _names(results: Sequence[Recosted]) -> dict[str, str]:
    """Return what each product is called, by its key: its title, and its file where others have the same."""
    times = Counter(result.title for result in results)
    return {
        result.key: result.title
        if times[result.title] == 1 and result.title
        else f"{result.title} ({result.name})"
        if result.title
        else result.name
        for result in results
    }


def _words(result: Recosted) -> str:
    """Return what happens to a product."""
    if result.kind == "formula" and not result.faults:
        return f"{PRICED}; it breaks limits" if result.breaks else PRICED
    words = WORDS[result.outcome]
    return f"{words}; unchanged it breaks a limit" if result.breaks and result.outcome != "broken" else words


def _summary(results: Sequence[Recosted]) -> str:
    """Return how many products fare how, in one sentence."""
    times = Counter(
        PRICED if result.kind == "formula" and not result.faults else WORDS[result.outcome]
        for result in results
    )
    order = [words for words in (*WORDS.values(), PRICED) if times[words]]
    told = "; ".join(f"{words}: {times[words]}" for words in order)
    return f"{len(results)} {'product' if len(results) == 1 else 'products'}. {told[:1].upper()}{told[1:]}."


def _changes(results: Sequence[Recosted], names: Mapping[str, str]) -> list[Block]:
    items = tuple(
        f"{names[result.key]}: "
        + "; ".join(f"{name} {percent(old)} to {percent(new)} %" for name, old, new in result.changes)
        for result in results
        if result.changes
    )
    return [Heading("What changes, % w/w"), Bullets(items)] if items else []


def _breaks(results: Sequence[Recosted], names: Mapping[str, str]) -> list[Block]:
    items = tuple(f"{names[result.key]}: {'; '.join(result.breaks)}" for result in results if result.breaks)
    return [Heading("What the old formulas break"), Bullets(items)] if items else []


def _faults(results: Sequence[Recosted]) -> list[Block]:
    faults = tuple(fault for result in results for fault in result.faults)
    return [Heading("What could not be used"), Bullets(faults, tone="bad")] if faults else []


def _no_part(found: Recosting, mixed: bool) -> list[Block]:
    """Return what had no part in the answer, and what a reader of several currencies must know."""
    notes = []
    if mixed:
        notes.append(
            "The libraries have different currencies: each product was priced as if the list were in that of its own."
        )
    if found.unknown:
        told = [f"{name} (did you mean {near}?)" if near else name for name, near in found.unknown[:NAMED]]
        notes.append(f"In the price list, and in no library: {_listed(told, len(found.unknown))}.")
    if found.passed_over:
        told = list(found.passed_over[:NAMED])
        notes.append(f"Passed over, neither brief nor formula: {_listed(told, len(found.passed_over))}.")
    if found.plans:
        plans = _listed(found.plans[:NAMED], len(found.plans))
        notes.append(f"Passed over as a plan, whose briefs and formulas count by themselves: {plans}.")
    return [Heading("To know"), Bullets(tuple(notes))] if notes else []


def _listed(told: Sequence[str], total: int) -> str:
    rest = total - len(told)
    return ", ".join(told) + (f" and {rest} more" if rest else "")


def recost_table(results: Sequence[Recosted]) -> str:
    """Return one CSV row per product, every digit."""
    return csv_table.table(
        COLUMNS,
        (
            (
                result.name, result.kind, result.outcome, result.title, result.currency, result.cost_before,
                result.cost_same, result.cost_after, result.saving, "; ".join(result.structure_before),
                "; ".join(result.structure_after), "; ".join(result.breaks), "; ".join(result.faults),
            )
            for result in results
        ),
    )  # fmt: skip
