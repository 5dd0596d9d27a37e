"""Lays out the tables of a family: bills, products, scenarios, and the shelf as a matrix."""

from __future__ import annotations

from collections.abc import Callable

from optiform.families.model import Bill, Family, Member, ScenarioResult, ShelfMaterial
from optiform.sheets.purchase.shopping import ShoppingLine
from optiform.views.words import family_words as words
from optiform.views.words.blocks import Block, Column, Field, Heading, Paragraph, Table, tabulated
from optiform.views.words.names import Names, names_in
from optiform.views.words.numbers import NOTHING, fixed, percent, short
from optiform.views.words.sheet_words import packs


def names(found: Family) -> Names:
    """Return the names of the materials that a family has to do with."""
    beside = [point for point in (found.one_less, found.one_more) if point is not None]
    others = (which for point in beside for which in (*point.leaves, *point.enters))
    return names_in(found.plan.library, (*(stand.material for stand in found.shelf), *others))


def title(found: Family) -> list[Block]:
    """Return the title with the answer beside it, the library, and the proof."""
    trust = found.plan.library.trust.get("price")
    prices = f"; prices {trust}" if trust is not None else ""
    rates = found.plan.quotes.told if found.plan.quotes is not None else ""
    prices += f"; {rates}" if rates else ""
    head: list[Block] = [
        Heading(found.title, 1, aside=words.verdict(found)),
        Paragraph(f"{found.library}{prices}.", "quiet"),
    ]
    return [*head, Paragraph(words.proof(found))] if found.products else head


BILLS = (("bought one by one", "apart"), ("bought together", "together"), ("designed together", "here"))


def bills_table(found: Family) -> Table:
    """Return the bills of the three ways to buy side by side."""
    rows: list[tuple[str, Bill]] = [
        (label, bill) for label, name in BILLS if (bill := getattr(found, name)) is not None
    ]
    if len(found.products) == 1:
        told = {"together": "the cheapest per kg, bought", "here": "the formula to buy for"}
        rows = [(told[name], getattr(found, name)) for name in told]
    columns = (
        Column("", head=True), Column(f"{found.currency} out", "decimal"), Column("used", "decimal"),
        Column("left", "decimal", sheds=2), Column("materials", "right"), Column("orders", "right", sheds=1),
    )  # fmt: skip
    return Table(
        "What sharing saves",
        columns,
        tuple(
            (label, fixed(bill.cash, 2), fixed(bill.consumed, 2), fixed(bill.left_value, 2),
             str(bill.materials), str(bill.orders))
            for label, bill in rows
        ),
    )  # fmt: skip


def products_table(found: Family) -> Table:
    """Return each product alone and here, with its letter."""
    places = {member.title: place for place, member in enumerate(found.products)}
    others = any(member.aim != "cost" for member in found.products)
    fields: list[Field] = [
        Field("", lambda member: words.letter(places[member.title])),
        Field("product", lambda member: member.title, head=True, cut=True),
        Field("kg", lambda member: short(round(member.grams / 1000.0, 3)), "decimal"),
        Field(f"{found.currency}/kg alone", lambda member: fixed(member.alone, 2), "decimal"),
        Field("here", lambda member: fixed(member.here, 2), "decimal"),
        Field("at most", _ceiling, "decimal", sheds=1),
    ]
    if others:
        fields.append(Field("aim, alone to here", _aim, sheds=2))
    return tabulated("Products", fields, found.products)


def _ceiling(member: Member) -> str:
    """Return the highest cost that the plan allows a product; `NOTHING` where it sets none."""
    if member.within is None or member.aim != "cost":
        return NOTHING
    return fixed(member.alone * (1.0 + member.within), 2)


def _aim(member: Member) -> str:
    if member.aim == "cost":
        return ""
    unit = f" {member.aim_unit}".rstrip()
    digits = 0 if member.aim_unit == "points" else 2
    return f"{member.aim} {fixed(member.aim_alone, digits)} to {fixed(member.aim_here, digits)}{unit}"


SIDE_BY_SIDE = "Under other circumstances"


def scenarios_table(found: Family, *, short: bool = False) -> Table:
    """Return the plan and its scenarios side by side, each product by its letter.

    Parameters
    ----------
    short : bool
        Whether what enters the shelf and leaves it is left out.
    """
    called, each = names_in(found.plan.library), range(len(found.products))
    here = tuple(member.here for member in found.products)
    planned = ScenarioResult("as planned", found.status, found.cash, found.consumed, found.materials, here)
    fields = [
        Field("", lambda one: one.title, head=True, cut=True),
        Field(f"{found.currency} out", words.scenario_cash, "decimal"),
        Field("used", lambda one: fixed(one.consumed, 2), "decimal", sheds=3),
        Field("materials", lambda one: NOTHING if one.materials is None else str(one.materials), "right"),
        *(Field(words.letter(place), _cost(place), "decimal", sheds=2) for place in each),
    ]  # fmt: skip
    if not short:
        fields.append(Field("against this shelf", lambda one: words.moved(one, called).strip(" ()"), sheds=1))
    return tabulated(f"{SIDE_BY_SIDE}, products in {found.currency}/kg", fields, (planned, *found.scenarios))


def _cost(place: int) -> Callable[[ScenarioResult], str]:
    return lambda one: fixed(one.costs[place], 2) if one.costs else NOTHING


def matrix(found: Family) -> Table:
    """Return the shelf: materials by products in % w/w, with what to buy and what is left."""
    called = names(found)
    lines = {} if found.purchase is None else {line.material: line for line in found.purchase.lines}
    fields: list[Field] = [Field("material", lambda stand: called.short(stand.material), head=True, cut=True)]
    fields += [Field(words.letter(place), _percent(place), "decimal") for place in range(len(found.products))]
    fields.append(Field("buy", lambda stand: buys(lines.get(stand.material)), sheds=2))
    fields.append(Field("left g", lambda stand: _left(lines.get(stand.material)), "right", sheds=1))
    return tabulated(f"The shelf, % w/w, {len(found.shelf)} materials", fields, found.shelf)


def _percent(place: int) -> Callable[[ShelfMaterial], str]:
    return lambda stand: percent(stand.percents[place]) if stand.percents[place] > 0 else ""


def buys(line: ShoppingLine | None) -> str:
    """Return the packs to buy of a material, or where it comes from without any."""
    if line is None:
        return NOTHING
    if line.packs:
        return packs(line.packs)
    return "by weight" if line.by_weight else "on the shelf"


def _left(line: ShoppingLine | None) -> str:
    return fixed(line.left_g, 0) if line is not None and line.packs else NOTHING
