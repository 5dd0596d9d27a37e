"""Tells a family in full, part by part."""

from __future__ import annotations

from collections.abc import Callable

from optiform.families.model import Family
from optiform.views.results.conflict import conflict_blocks
from optiform.views.results.families.shelf import around, shelf
from optiform.views.results.sheet import shopping_blocks
from optiform.views.words import family_words as words
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Field,
    Heading,
    Paragraph,
    bullets,
    section,
    tabulated,
)
from optiform.views.words.family_tables import (
    SIDE_BY_SIDE,
    bills_table,
    products_table,
    scenarios_table,
    title,
)
from optiform.views.words.numbers import NOTHING, fixed, percent


def collision(found: Family) -> list[Block]:
    """Return why no family can be made, and what would let it be."""
    why = found.conflict
    if why is None:
        return []
    if why.answer is not None and why.answer.conflict is not None:
        told = f"{why.product} cannot be made by itself, whatever stands on the shelf."
        return [Paragraph(told, "bad"), *conflict_blocks(why.answer.conflict, why.answer.aim_unit)]
    told = words.EACH_ALONE
    ways = Bullets(tuple(words.way(way, found) for way in why.ways), numbered=True)
    late = [] if why.complete else [Paragraph("The time ran out before every change was tried.", "quiet")]
    nothing = Paragraph(words.NO_WAY, "bad")
    listed: list[Block] = (
        section("Any one of these is enough; each was solved", ways) if why.ways else [nothing]
    )
    inside = bullets("What collides inside a product", words.collisions(found))
    return [Paragraph(told, "bad"), *map(Paragraph, words.cannot(found)), *listed, *inside, *late]


def bills(found: Family) -> list[Block]:
    """Return the bills, and what sharing saves."""
    if found.here is None:
        return []
    told = words.saving(found)
    return [Heading("What sharing saves"), bills_table(found), *([Paragraph(told)] if told else [])]


def products(found: Family) -> list[Block]:
    """Return each product alone and in the family."""
    if not found.products:
        return []
    return [Heading("Products"), products_table(found), Paragraph(words.ALONE, "quiet")]


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


def limits(found: Family) -> list[Block]:
    """Return what one step of each limit costs the whole family, and how many limits have no such price."""
    if not found.limits:
        return []
    titles, heading = words.called(found), "What limits cost the family"
    fields = (
        Field("limit, one step tighter", lambda one: words.limit(one, titles), head=True),
        Field(found.currency, lambda one: fixed(one.costs, 2), "decimal"),
    )
    priced = [one for one in found.limits if one.costs is not None]
    ordered = sorted(priced, key=lambda one: -(one.costs or 0.0))
    told = "For all batches together, every choice kept; amounts and packs follow."
    blocks: list[Block] = [Paragraph(told, "quiet"), tabulated(heading, fields, ordered)] if ordered else []
    unpriced = words.unpriced(len(found.limits) - len(priced), alone=not priced)
    return section(heading, *blocks, *([Paragraph(unpriced)] if unpriced else []))


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
    finishes = (
        Field("product", lambda finish: finish.product, head=True),
        Field("base, g", lambda finish: fixed(finish.base_g, 1), "decimal"),
        Field("more to weigh", lambda finish: str(len(finish.lines)), "right"),
        Field(f"{found.currency}/kg", lambda finish: fixed(finish.here, 2), "decimal"),
        Field("with its own base", lambda finish: fixed(finish.own_base, 2), "decimal"),
    )
    return [
        Heading("One base for all"),
        Paragraph(words.base(found)),
        tabulated("The base", lines, made.lines),
        tabulated("Finished from the base", finishes, made.finishes),
        Paragraph(STEPS, "quiet"),
    ]


STEPS = "What to weigh, order of working, temperatures and dose of acid: optiform family PLAN --part batch."
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
    "scenarios": lambda found: section(SIDE_BY_SIDE, scenarios_table(found)) if found.scenarios else [],
    "purchase": lambda found: (
        [] if found.purchase is None else [Heading("What to buy"), *shopping_blocks(found.purchase)]
    ),
    "end": lambda found: [*bullets("To know", found.notes), *bullets("Cautions", found.cautions, "caution")],
}
