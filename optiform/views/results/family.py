"""A family in full: what sharing saves, products, shelf, purchase, and what each material and limit costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.results.conflict import conflict_blocks
from optiform.views.results.sheet import shopping_blocks
from optiform.views.words import family_words as words
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Column,
    Field,
    Heading,
    Paragraph,
    Rows,
    Table,
    bullets,
    section,
    tabulated,
)
from optiform.views.words.family_tables import bills_table, buys, matrix, names, products_table, title
from optiform.views.words.names import names_in
from optiform.views.words.numbers import NOTHING, fixed, percent

if TYPE_CHECKING:
    from collections.abc import Callable

    from optiform.families.model import Family, Finish, Point
    from optiform.views.words.blocks import Cell


def collision(found: Family) -> list[Block]:
    """Return why no family can be made, and what would let it be."""
    why = found.conflict
    if why is None:
        return []
    if why.answer is not None and why.answer.conflict is not None:
        told = f"{why.product} cannot be made by itself, whatever stands on the shelf."
        return [Paragraph(told, "bad"), *conflict_blocks(why.answer.conflict, why.answer.aim_unit)]
    told = words.EACH_ALONE
    ways = Bullets(tuple(words.way(way, words.called(found)) for way in why.ways), numbered=True)
    late = [] if why.complete else [Paragraph("The time ran out before every change was tried.", "quiet")]
    nothing = Paragraph(words.NO_WAY, "bad")
    listed: list[Block] = (
        section("Any one of these is enough; each was solved", ways) if why.ways else [nothing]
    )
    return [Paragraph(told, "bad"), *listed, *late]


def bills(found: Family) -> list[Block]:
    """Return what sharing saves, told against buying together."""
    if found.here is None:
        return []
    told = words.saving(found)
    return [Heading("What sharing saves"), bills_table(found), *([Paragraph(told)] if told else [])]


def products(found: Family) -> list[Block]:
    """Return each product alone and here, and every difference."""
    if not found.products:
        return []
    return [Heading("Products"), products_table(found), Paragraph(words.ALONE, "quiet")]


def shelf(found: Family) -> list[Block]:
    """Return the shelf as a table, and what keeps each material there."""
    if not found.shelf:
        return []
    called, titles = names(found), words.called(found)
    kept = tuple(
        f"{called.short(stand.material)}: {words.keeps(stand, found.currency, titles)}"
        for stand in found.shelf
        if stand.without
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


def differences(found: Family) -> list[Block]:
    """Return for each product every amount that is another than alone."""
    blocks: list[Block] = []
    fields = (
        Field("material", lambda one: one.name, head=True),
        Field("alone", lambda one: percent(one.alone) if one.alone else NOTHING, "decimal"),
        Field("here", lambda one: percent(one.here) if one.here else NOTHING, "decimal"),
    )
    for member in found.products:
        moved = [one for one in member.differences if percent(one.alone) != percent(one.here)]
        blocks.append(Heading(member.title, 3))
        if moved:
            blocks.append(tabulated(f"{member.title}, alone and here, % w/w", fields, moved))
        else:
            blocks.append(Paragraph("The same formula as alone."))
    return [Heading("Alone and here, % w/w"), *blocks] if blocks else []


def around(found: Family) -> list[Block]:
    """Return what one material more saves and one less costs, and the whole curve where it was asked for."""
    called = names(found)
    told = tuple(text for text in (words.one_less(found, called), words.one_more(found, called)) if text)
    blocks: list[Block] = bullets("One material more, one less", told)
    if not found.curve:
        return blocks
    best, titles = min(point.money for point in found.curve), words.called(found)

    def change(point: Point) -> str:
        return words.moved(point, called).strip(" ()")

    fields = (
        Field("at most", lambda point: str(point.at_most), "right", head=True),
        Field(f"{found.currency}", lambda point: fixed(point.money, 2), "decimal"),
        Field("above least", lambda point: fixed(point.money - best, 2), "decimal"),
        Field("proven from", lambda point: fixed(point.bound, 2), "decimal", sheds=2,
              note="proven from: no family on as many materials costs less"),
        Field("against this shelf", change, sheds=1),
        Field("EUR/kg each".replace("EUR", found.currency), lambda point: words.costs(point.costs, titles), sheds=3),
    )  # fmt: skip
    return [
        *blocks,
        *section("The curve of the shelf", tabulated("The curve of the shelf", fields, found.curve)),
    ]


def limits(found: Family) -> list[Block]:
    """Return what one step of each limit costs the whole family."""
    fields = (
        Field("limit, one step tighter", lambda one: words.limit(one, words.called(found)), head=True),
        Field(found.currency, lambda one: words.price(one.costs), "decimal"),
    )
    told = "For all batches together, every choice kept; amounts and packs follow."
    ordered = sorted(found.limits, key=lambda one: (one.costs is None, -(one.costs or 0.0)))
    if not ordered:
        return []
    return section("What limits cost the family", Paragraph(told, "quiet"),
                   tabulated("What limits cost the family", fields, ordered))  # fmt: skip


def base(found: Family) -> list[Block]:
    """Return the base with its grams, and how each product is finished from it."""
    made = found.base
    if made is None:
        return []
    lines = (
        Field("material", lambda line: line.name, head=True),
        Field("% w/w of each product", lambda line: percent(line.percent), "decimal"),
        Field("g", lambda line: fixed(line.grams, 1), "decimal"),
    )
    blocks: list[Block] = [
        Heading("One base for all"),
        Paragraph(
            f"{percent(made.percent)} % of each product is the same: make {fixed(made.grams, 1)} g once, and split it."
        ),
        tabulated("The base", lines, made.lines),
    ]
    if made.costs is not None:
        costs = fixed(made.costs, 2) if made.costs > words.ALIKE else "nothing"
        blocks.append(
            Paragraph(f"Against a base of its own for each it costs {costs} {found.currency} in all.")
        )
    for finish in made.finishes:
        blocks += [Heading(finish.product, 3), *_finish(finish, found.currency)]
    steps = "Order of working, temperatures and dose of acid: optiform sheet, for each formula."
    return [*blocks, Paragraph(steps, "quiet")]


def _finish(finish: Finish, currency: str) -> list[Block]:
    columns = (Column("", head=True), Column("g", "decimal"))
    rows = (("base", fixed(finish.base_g, 1)), *((name, fixed(grams, 2)) for _, name, grams in finish.lines))
    blocks: list[Block] = [Table(f"{finish.product}, finished from the base", columns, rows)]
    if finish.own_base is not None:
        blocks.append(
            Paragraph(
                f"{fixed(finish.here, 2)} {currency}/kg; {fixed(finish.own_base, 2)} with a base of its own."
            )
        )
    return blocks


def cases(found: Family) -> list[Block]:
    """Return the family under other circumstances, side by side."""
    if not found.cases:
        return []
    called, titles = names_in(found.plan.library), words.called(found)
    fields = (
        Field("", lambda one: one.title, head=True),
        Field(f"{found.currency} out", lambda one: fixed(one.cash, 2) if one.cash is not None else words.case(one),
              "decimal"),
        Field("used", lambda one: fixed(one.consumed, 2), "decimal", sheds=3),
        Field("materials", lambda one: NOTHING if one.materials is None else str(one.materials), "right"),
        Field("against this shelf", lambda one: words.moved(one, called).strip(" ()"), sheds=1),
        Field(f"{found.currency}/kg each", lambda one: words.costs(one.costs, titles) if one.costs else "", sheds=2),
    )  # fmt: skip
    return section("Under other circumstances", tabulated("Under other circumstances", fields, found.cases))


def purchase(found: Family) -> list[Block]:
    """Return what to buy."""
    return [] if found.purchase is None else [Heading("What to buy"), *shopping_blocks(found.purchase)]


def end(found: Family) -> list[Block]:
    """Return notes and cautions."""
    return [*bullets("To know", found.notes), *bullets("Cautions", found.cautions, "caution")]


PARTS: dict[str, Callable[[Family], list[Block]]] = {
    "title": title,
    "collision": collision,
    "bills": bills,
    "products": products,
    "shelf": shelf,
    "around": around,
    "limits": limits,
    "differences": differences,
    "base": base,
    "cases": cases,
    "purchase": purchase,
    "end": end,
}


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
