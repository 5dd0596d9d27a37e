"""Tells the sheets of a formula: batch record, label, unit cost, shopping list."""

from __future__ import annotations

from optiform.sheets.label_sheet import LabelLine, LabelSheet
from optiform.sheets.purchase.shopping import Shopping, ShoppingLine
from optiform.sheets.sheet import Sheet
from optiform.sheets.unit_cost import UnitCost
from optiform.views.results.record import record_blocks
from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import (
    TIED,
    Block,
    Bullets,
    Column,
    Contents,
    Field,
    Heading,
    Paragraph,
    Table,
    bullets,
    section,
    tabulated,
)
from optiform.views.words.numbers import NOTHING, fixed, percent, short


def sheet_blocks(sheet: Sheet) -> list[Block]:
    """Return all parts of a sheet, cautions first."""
    blocks: list[Block] = [Heading(sheet.title, 1), *_front(sheet)]
    if sheet.batch is not None:
        blocks += record_blocks(sheet.batch)
    if sheet.label is not None:
        blocks += label_blocks(sheet.label)
    if sheet.cost is not None:
        blocks += cost_blocks(sheet.cost)
    if sheet.shopping is not None:
        blocks += [Heading("Shopping"), *shopping_blocks(sheet.shopping)]
    return [*blocks, *bullets("Notes", sheet.notes)]


def _front(sheet: Sheet) -> list[Block]:
    blocks: list[Block] = [
        Paragraph(
            f"{short(sheet.batch_g)} g; contents {fixed(sheet.cost_per_kg, 2)} {sheet.currency}/kg; "
            f"library: {sheet.library}.",
            "quiet",
        )
    ]
    if sheet.breaks:
        blocks += [Paragraph(words.breaks(sheet.breaks), "bad"), Bullets(sheet.breaks, tone="bad")]
    return [*blocks, *bullets("Before you start", sheet.cautions, "caution"), Contents()]


def label_blocks(label: LabelSheet) -> list[Block]:
    """Return the label: the list to print, how sure it is, and the blanks."""
    told = [words.one_percent_line(label.listed)]
    if label.declared:
        told.append(f"* fragrance allergen above its threshold. {words.SEVERAL_PLACES}")
    blocks: list[Block] = [
        Heading("Label"),
        Paragraph(words.rule(label), "quiet"),
        Paragraph(label.listed.text),
        _ingredients(label),
        Paragraph(" ".join(filter(None, told)), "quiet"),
    ]
    blocks += bullets("Where a lot may change the list", (doubt.text for doubt in label.doubts), level=3)
    facts = [
        words.natural(label),
        label.natural_origin_note and f"Natural origin: {label.natural_origin_note}.",
    ]
    facts += [words.contents(label.contents), label.contents.note]
    blocks += bullets("Figures for the label", filter(None, facts), level=3)
    blocks += bullets(words.CONDITIONS, words.conditions(label), level=3)
    if label.blanks:
        particulars = tabulated("Other particulars", PARTICULARS, label.blanks)
        blocks += section("What else the label needs", particulars, level=3)
    return [*blocks, *bullets("Notes on the list", label.notes, level=3)]


def _ingredients(label: LabelSheet) -> Table:
    """Return the list with its other names and amounts, and where its order is free."""
    american = label.jurisdiction == "US"

    def other(line: LabelLine) -> str:
        name = line.inci if american else line.us_name
        return name if name != line.name else ""

    fields = (
        Field("name", lambda line: line.name + (" *" if line.is_allergen else ""), head=True),
        Field("INCI name" if american else "US name", other),
        Field("% w/w", lambda line: percent(line.percent), "decimal"),
        Field("in lots", _ranging),
        Field("order", lambda line: words.PART_NAMES[line.part], once=True),
    )
    return tabulated("Ingredients of the finished product", fields, label.lines)


def _ranging(line: LabelLine) -> str:
    """Return the range over the lots; empty where both ends print alike."""
    low, high = percent(line.low), percent(line.high)
    return f"{low} to {high}" if low != high else ""


PARTICULARS = (
    Field("to fill in or settle", lambda blank: blank.title, head=True),
    Field("look at", lambda blank: blank.hint),
    Field("where", words.where),
    Field("filled in", lambda blank: words.BOX if blank.is_check else "_" * 12),
)


def cost_blocks(cost: UnitCost) -> list[Block]:
    """Return what a unit costs, part by part, the ceiling and other batch sizes."""
    money = cost.currency
    fields = (
        Field("part", lambda part: part.part, head=True),
        Field(f"{money}/unit", lambda part: fixed(part.per_unit, 2), "decimal"),
        Field("%", lambda part: fixed(part.share_percent, 0), "decimal"),
        Field("how", lambda part: part.how),
    )
    total = ("total", fixed(cost.total, 2), "100", "")
    blocks: list[Block] = [
        Heading("Unit cost"),
        Paragraph(words.unit_line(cost)),
        tabulated("Cost of one unit", fields, cost.parts, total),
    ]
    blocks += bullets("What the contents may cost", words.ceiling(cost), level=3)
    if cost.scenarios:
        sizes = tabulated("Cost of a unit by batch size", SIZES, cost.scenarios)
        blocks += section(f"Other batch sizes, {money}/unit", sizes, level=3)
    materials = (
        Field("material", lambda material: material.name, head=True),
        Field(f"{money}/unit", lambda material: fixed(material.per_unit, 3), "decimal"),
        Field("% of contents", lambda material: fixed(material.share_percent, 0), "decimal"),
    )
    shown = tabulated("Contents by material", materials, cost.materials)
    blocks += section("Contents by material", shown, level=3)
    return [*blocks, Bullets(cost.notes, tone="quiet")] if cost.notes else blocks


def _each(name: str) -> Field:
    return Field(name, lambda scenario: fixed(getattr(scenario, name), 2), "decimal")


SIZES = (
    Field("batch, g", lambda scenario: short(scenario.batch_g), "decimal"),
    Field("units", lambda scenario: str(scenario.units), "decimal"),
    *map(_each, ("contents", "packaging", "labour", "tests", "overhead", "total")),
    Field("left, g", lambda scenario: fixed(scenario.left_over_g, 0), "decimal"),
)


def shopping_blocks(found: Shopping) -> list[Block]:
    """Return the shopping list: packs, orders, what is left, and near misses."""
    blocks: list[Block] = [
        Bullets(tuple(words.made(make) for make in found.makes)),
        Paragraph(words.aim(found), "quiet"),
        Paragraph(words.shopping_summary(found)),
    ]
    columns = (
        Column("material", head=True), Column("need g", "decimal"), Column("shelf g", "decimal"),
        Column("buy"), Column(found.currency, "decimal"), Column("left g", "decimal"),
        Column("worth", "decimal"),
    )  # fmt: skip
    rows = tuple(
        (
            line.name, _need(line.needed_g),
            "enough" if line.stock_g is None else fixed(line.stock_g, 1) if line.stock_g else NOTHING,
            _buy(line), fixed(line.cash, 2) if line.to_buy_g and not line.tap else NOTHING,
            fixed(line.left_g, 1) if line.packs else NOTHING,
            fixed(line.left_value, 2) if line.packs else NOTHING,
        )
        for line in found.lines
    )  # fmt: skip
    rows += tuple(
        (f"Delivery, {order.supplier or 'no supplier named'}", "", "", "", fixed(order.delivery, 2), "", "")
        for order in found.orders
        if order.delivery
    )
    total = ("total", "", "", "", fixed(found.cash, 2), "", fixed(found.left_value, 2))
    blocks.append(Table("What to buy", columns, rows, total))
    orders = tuple(
        f"{order.supplier or 'no supplier named'}: {order.packs} pack{'s' if order.packs != 1 else ''}, "
        f"{fixed(order.goods, 2)} {found.currency}"
        + (f", delivery {fixed(order.delivery, 2)}" if order.delivery else "")
        for order in found.orders
    )
    blocks += bullets("By supplier", orders, level=3)
    names = {line.material: line.name for line in found.lines}
    told = (words.near_miss(miss, names[miss.material], found.currency) for miss in found.near_misses)
    blocks += bullets("Nearly a pack less", told, level=3)
    return [*blocks, Bullets(found.notes, tone="quiet")] if found.notes else blocks


def _need(grams: float) -> str:
    """Return a need in grams: one decimal, more where little is needed."""
    return fixed(grams, 1) if grams >= 10 else fixed(grams, 2) if grams >= 0.01 else short(round(grams, 6))


def _buy(line: ShoppingLine) -> str:
    if line.tap:
        return "from the tap"
    if line.by_weight:
        return f"{_need(line.to_buy_g)} g by weight"
    if not line.packs:
        return "nothing: on the shelf"
    return " + ".join(words.packs((pack,)).replace(" ", TIED) for pack in line.packs)


def plan_blocks(found: Shopping, cautions: tuple[str, ...]) -> list[Block]:
    """Return a plan's shopping list as a document of its own."""
    return [
        Heading(found.title, 1),
        Heading("Shopping"),
        *shopping_blocks(found),
        Heading("When it arrives"),
        Bullets(cautions, tone="caution"),
    ]
