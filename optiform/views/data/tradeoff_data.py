"""A trade-off as CSV: every knot, every digit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.data import csv_table

if TYPE_CHECKING:
    from optiform.answers.tradeoff import TradeOff

COLUMNS = (
    "curve", "third", "third_bound", "stretch", "bound", "value", "reached", "price", "bracket", "jump",
    "change", "structure", "materials",
)  # fmt: skip


def tradeoff_table(found: TradeOff) -> str:
    """Return both ends of every stretch as CSV."""
    return csv_table.table(
        COLUMNS,
        (
            (
                place,
                "" if curve.third is None else curve.third.measure,
                None if curve.third is None else curve.third.bound,
                number,
                knot.bound,
                knot.value,
                knot.reached,
                stretch.price,
                stretch.bracket,
                stretch.jump if knot is stretch.start else 0.0,
                stretch.change,
                " | ".join(stretch.structure),
                " | ".join(f"{name} {amount!r}" for name, amount in knot.lines),
            )
            for place, curve in enumerate(found.curves, 1)
            for number, stretch in enumerate(curve.stretches, 1)
            for knot in (stretch.start, stretch.end)
        ),
    )
