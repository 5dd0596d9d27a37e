"""A trade-off as JSON and as CSV: every knot, every digit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optiform.views.data import csv_table, json_document

if TYPE_CHECKING:
    from optiform.answers.tradeoff import Curve, Knot, Stretch, TradeOff

COLUMNS = (
    "curve", "third", "third_bound", "stretch", "bound", "value", "reached", "price", "bracket", "jump",
    "change", "structure", "materials",
)  # fmt: skip


def tradeoff_document(found: TradeOff) -> str:
    """Return a trade-off as one JSON document."""
    content: dict[str, Any] = {
        "status": found.status,
        "proven": found.proven,
        "aim": {"measure": found.of, "unit": found.of_unit, "sense": found.sense},
        "against": {"measure": found.against, "unit": found.against_unit, "side": found.side},
        "straight": found.straight,
        "brief": {"title": found.title, "library": found.library},
        "curves": [_curve(curve) for curve in found.curves],
        "conflict": None,
        "notes": found.notes,
        "cautions": found.cautions,
    }
    if found.conflict is not None:
        content["conflict"] = json_document.conflict_fields(found.conflict)
    return json_document.document("tradeoff", content)


def _curve(curve: Curve) -> dict[str, Any]:
    return {
        "third": None if curve.third is None else json_document.plain(curve.third),
        "proven": curve.proven,
        "structures": curve.structures,
        "free": [json_document.plain(part) for part in curve.free],
        "knees": [json_document.plain(knee) for knee in curve.knees],
        "here": None if curve.here is None else json_document.plain(curve.here),
        "affords": None if curve.affords is None else json_document.plain(curve.affords),
        "stretches": [_stretch(stretch) for stretch in curve.stretches],
    }


def _stretch(stretch: Stretch) -> dict[str, Any]:
    return {
        "start": _knot(stretch.start),
        "end": _knot(stretch.end),
        "jump": stretch.jump,
        "price": stretch.price,
        "bracket": stretch.bracket,
        "structure": stretch.structure,
        "change": stretch.change,
        "entered": stretch.entered,
        "left": stretch.left,
    }


def _knot(knot: Knot) -> dict[str, Any]:
    return {
        "bound": knot.bound,
        "value": knot.value,
        "reached": knot.reached,
        "lines": [{"material": name, "percent": amount} for name, amount in knot.lines],
    }


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
