"""Draws what each material of a formula costs, the dearest first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from optiform.answers.model.answer import Formula
from optiform.views.pictures.drawing import ORANGE, WIDTH, Sheet, in_strips, share, width_of
from optiform.views.words.blocks import Card, Column, Table
from optiform.views.words.numbers import fixed

Parts = Sequence[tuple[str, float, float]]

TITLE = "What costs"


def card(formula: Formula) -> Card:
    """Return the picture and its table."""
    parts, currency = parts_of(formula), formula.currency
    columns = (
        Column("material", head=True),
        Column(f"{currency}/kg", "decimal"),
        Column("share, %", "decimal"),
    )
    rows = tuple((name, fixed(cost, 3), fixed(part, 1)) for name, cost, part in parts)
    beside = Table(f"{TITLE}, formula {formula.rank}", columns, rows)
    largest = max((cost for _, cost, _ in parts), default=0.0) or 1.0
    picture = in_strips(
        parts, partial(_draw, currency=currency, largest=largest), f"cost-{formula.rank}", TITLE
    )
    return Card(f"{TITLE}, {currency} per kg of formula", picture, table=beside)


def parts_of(formula: Formula) -> Parts:
    """Return name, cost [currency per kg of formula] and share [%] of each material."""
    whole = math.fsum(line.cost for line in formula.lines)
    lines = sorted(formula.lines, key=lambda line: (-line.cost, line.material))
    return [(line.name, line.cost, 100.0 * line.cost / whole if whole else 0.0) for line in lines]


def _draw(parts: Parts, name: str, title: str, currency: str, largest: float) -> str:
    sheet = Sheet(27.0 * len(parts))
    for place, (material, cost, part) in enumerate(parts):
        top, figures = 27.0 * place, f"{fixed(cost, 2)} ({share(part)})"
        sheet.words(WIDTH, top + 10, figures, anchor="right")
        sheet.words(0, top + 10, material, room=WIDTH - width_of(figures) - 10)
        sheet.bar(0, top + 14, WIDTH * max(cost, 0.0) / largest, 7, ORANGE)
    dearest = ", ".join(f"{material} {fixed(cost, 2)} ({share(part)})" for material, cost, part in parts)
    return sheet.finish(name, title, f"{currency} per kg of formula, the dearest first: {dearest}.")
