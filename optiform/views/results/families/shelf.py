"""Tells the shelf of a family: its matrix, what keeps each material, one material more or less."""

from __future__ import annotations

from optiform.families.model import CurvePoint, Family
from optiform.views.words import family_words as words
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Cell,
    Field,
    Heading,
    Paragraph,
    Rows,
    bullets,
    section,
    tabulated,
)
from optiform.views.words.family_tables import buys, matrix, names
from optiform.views.words.numbers import fixed


def shelf(found: Family) -> list[Block]:
    """Return the shelf as a table, and what keeps each material there."""
    if not found.shelf:
        return []
    called, titles = names(found), words.called(found)
    kept = (
        *words.needs(found, called),
        *(
            f"{called.short(stand.material)}: {told}"
            for stand in found.shelf
            if (told := words.keeps(stand, found.currency, titles))
        ),
    )
    told = "Without it, each product that uses it is made again of the rest of the shelf, the others as they are."
    return [
        Heading("The shelf, % w/w"),
        matrix(found),
        *(
            section("What keeps each material", Paragraph(told, "quiet"), Bullets(kept), level=3)
            if kept
            else []
        ),
    ]


def around(found: Family) -> list[Block]:
    """Return what one material more saves and one less costs, and the whole curve where it was asked for."""
    called = names(found)
    told = tuple(text for text in (words.one_less(found, called), words.one_more(found, called)) if text)
    blocks: list[Block] = bullets("One material more, one less", told)
    if not found.curve:
        return blocks
    best, titles = min(point.money for point in found.curve), words.called(found)

    def change(point: CurvePoint) -> str:
        return words.moved(point, called).strip(" ()")

    fields = (
        Field("at most", lambda point: str(point.at_most), "right", head=True),
        Field(f"{found.currency}", lambda point: fixed(point.money, 2), "decimal"),
        Field("above least", lambda point: fixed(point.money - best, 2), "decimal"),
        Field("proven from", lambda point: fixed(point.bound, 2), "decimal", sheds=2,
              note="proven from: no family on as many materials costs less"),
        Field("against this shelf", change, sheds=1),
        Field(f"{found.currency}/kg each", lambda point: words.costs(point.costs, titles), sheds=3),
    )  # fmt: skip
    return [
        *blocks,
        *section("The curve of the shelf", tabulated("The curve of the shelf", fields, found.curve)),
    ]


def rows(found: Family) -> Rows:
    """Return the shelf with every digit: a row for each material and each product that uses it."""
    columns = (
        "material", "name", "product", "percent", "grams", "packs", "bought_g", "left_g", "cash",
        "without_costs_per_kg",
    )  # fmt: skip
    lines = {} if found.purchase is None else {line.material: line for line in found.purchase.lines}
    told: list[tuple[Cell, ...]] = []
    for stand in found.shelf:
        line = lines.get(stand.material)
        without = {one.product: one.costs for one in stand.without}
        bought: tuple[Cell, ...] = ("", None, None, None)
        if line is not None:
            bought = (buys(line), line.bought_g, line.left_g, line.cash)
        told += [
            (stand.material, stand.name, member.title, amount, amount * member.grams / 100.0, *bought,
             without.get(member.title))
            for member, amount in zip(found.products, stand.percents, strict=True)
            if amount > 0
        ]  # fmt: skip
    return columns, told
