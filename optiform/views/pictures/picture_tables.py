"""The numbers of every picture as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.blocks import Column, Table
from optiform.views.render.numbers import fixed, percent
from optiform.views.words import picture_words as said
from optiform.views.words import sentences

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.describe.portrait import Brought, Curve, Function, Harshness, Portion
    from optiform.answers.model.answer import Formula, Slack
    from optiform.program import Key

EVERY = 6
"""Of the points of a curve every so many stand in its table."""


def limits(title: str, formula: Formula, rows: Sequence[Slack]) -> Table:
    """Return limits of a formula, also the ones that a picture leaves out, and what a step costs."""
    prices = {limit.requirement.key: sentences.priced(limit) for limit in formula.binding}
    return rows_of(f"{title}, formula {formula.rank}", rows, prices)


def rows_of(caption: str, rows: Sequence[Slack], prices: dict[Key, str] | None = None) -> Table:
    """Return rows of slack as a table."""
    columns = [
        Column("limit", head=True),
        Column("here", "decimal"),
        Column("unit"),
        Column("bounds"),
        Column("stands"),
        Column("asked by"),
    ]
    if prices:
        columns.append(Column("what a step costs"))
    body = []
    for row in rows:
        which = f" ({row.which})" if row.which else ""
        cells = [
            f"{row.limit}{which}",
            said.amount(row, row.value),
            row.unit,
            said.bounds(row),
            said.standing(row),
            row.origin,
        ]
        if prices:
            told = [prices[r.key] for r in row.requirements if prices.get(r.key)]
            cells.append("; ".join(told))
        body.append(tuple(cells))
    return Table(caption, tuple(columns), tuple(body))


def composition(functions: Sequence[Function], rank: int) -> Table:
    """Return the amounts by function and material."""
    columns = (Column("function", head=True), Column("material"), Column("% w/w", "decimal"))
    rows = tuple(
        (group.name if place == 0 else "", part.name, percent(part.value))
        for group in functions
        for place, part in enumerate(group.materials)
    )
    return Table(f"{said.COMPOSITION}, formula {rank}", columns, rows)


def costs(parts: Sequence[Portion], currency: str, rank: int) -> Table:
    """Return what each material costs."""
    columns = (
        Column("material", head=True),
        Column(f"{currency}/kg", "decimal"),
        Column("share, %", "decimal"),
    )
    rows = tuple((part.name, fixed(part.value, 3), fixed(part.share, 1)) for part in parts)
    return Table(f"{said.COST}, formula {rank}", columns, rows)


def mildness(parts: Sequence[Harshness], value: float, rank: int) -> Table:
    """Return what each material takes from the mildness."""
    columns = (
        Column("material", head=True),
        Column("active matter, % w/w", "decimal"),
        Column("of all, %", "decimal"),
        Column("index", "right"),
        Column("points taken", "right"),
    )
    rows = tuple(
        (part.name, percent(part.active), fixed(part.share, 0), fixed(part.index, 0), fixed(part.lost, 1))
        for part in parts
    )
    total = ("mildness left", "", "", "", fixed(value, 1))
    return Table(f"{said.MILDNESS}, formula {rank}", columns, rows, total)


def brought(found: Sequence[Brought], rank: int) -> Table:
    """Return who brings how much of every measure that is limited."""
    columns = (
        Column("measure", head=True),
        Column("material"),
        Column("brings", "decimal"),
        Column("share, %", "decimal"),
    )
    rows = tuple(
        (
            f"{item.measure}, {item.unit}" if place == 0 else "",
            part.name,
            _part(part.value),
            fixed(part.share, 0),
        )
        for item in found
        for place, part in enumerate(item.parts)
    )
    return Table(f"{said.BROUGHT}, formula {rank}", columns, rows)


def _part(value: float) -> str:
    return percent(value) if value > 0 else fixed(value, 2)


def curve(found: Curve, rank: int) -> Table:
    """Return points of the pH curve, the formula itself among them."""
    shown = sorted({*found.points[::EVERY], found.points[-1], found.formula})
    digits = 3 if found.kind == "dose" else 1
    columns = (Column(said.axis(found), "decimal", head=True), Column("pH", "decimal"), Column("what it is"))
    rows = tuple((fixed(x, digits), fixed(y, 1), _what(found, x, y)) for x, y in shown)
    return Table(f"{said.CURVE}, formula {rank}", columns, rows)


def _what(found: Curve, amount: float, pH: float) -> str:
    if (amount, pH) == found.formula:
        return "the formula"
    if found.kind == "dose" and amount == 0:
        return "undosed"
    low, high = found.window
    wanted = (low is None or pH >= low) and (high is None or pH <= high)
    return "within the wanted pH" if wanted and found.window != (None, None) else ""
