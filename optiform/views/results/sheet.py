"""The sheets of a formula told in blocks, for a terminal, Markdown or a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.results.record import record_blocks
from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import TIED, Block, Bullets, Column, Heading, Paragraph, Table
from optiform.views.words.numbers import NOTHING, fixed, percent, short

if TYPE_CHECKING:
    from optiform.sheets.label_sheet import LabelSheet
    from optiform.sheets.purchase.shopping import Shopping, ShoppingLine
    from optiform.sheets.sheet import Sheet
    from optiform.sheets.unit_cost import UnitCost


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
    if sheet.notes:
        blocks += [Heading("Notes"), Bullets(sheet.notes)]
    return blocks


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
    return [*blocks, Heading("Before you start"), Bullets(sheet.cautions, tone="caution")]


def label_blocks(label: LabelSheet) -> list[Block]:
    """Return the label: the list to print, how sure it is, and the blanks."""
    blocks: list[Block] = [
        Heading("Label"),
        Paragraph(words.rule(label), "quiet"),
        Paragraph(label.listed.text),
    ]
    american = label.jurisdiction == "US"
    columns = (
        Column("name", head=True), Column("INCI name" if american else "US name"), Column("% w/w", "decimal"),
        Column("in lots"), Column("order"),
    )  # fmt: skip
    rows = []
    before = ""
    for line in label.lines:
        span = (
            f"{percent(line.low)} to {percent(line.high)}" if percent(line.low) != percent(line.high) else ""
        )
        place = words.PART_NAMES[line.part]
        other = line.inci if american else line.us_name
        rows.append(
            (
                line.name + (" *" if line.is_allergen else ""),
                other if other != line.name else "",
                percent(line.percent),
                span,
                place if place != before else "",
            )
        )
        before = place
    blocks.append(Table("Ingredients of the finished product", columns, tuple(rows)))
    told = [words.one_percent_line(label.listed)]
    if label.declared:
        told.append(f"* fragrance allergen above its threshold. {words.SEVERAL_PLACES}")
    blocks.append(Paragraph(" ".join(filter(None, told)), "quiet"))
    if label.doubts:
        doubts = tuple(doubt.text for doubt in label.doubts)
        blocks += [Heading("Where a lot may change the list", 3), Bullets(doubts)]
    facts = [
        words.natural(label),
        label.natural_origin_note and f"Natural origin: {label.natural_origin_note}.",
    ]
    facts += [words.contents(label.contents), label.contents.note]
    blocks += [Heading("Figures for the label", 3), Bullets(tuple(fact for fact in facts if fact))]
    blocks += _particulars(label)
    if label.notes:
        blocks += [Heading("Notes on the list", 3), Bullets(label.notes)]
    return blocks


def _particulars(label: LabelSheet) -> list[Block]:
    blocks: list[Block] = []
    if label.conditions:
        blocks += [Heading(words.CONDITIONS, 3), Bullets(words.conditions(label))]
    if label.blanks:
        columns = (
            Column("to fill in or settle", head=True),
            Column("look at"),
            Column("where"),
            Column("filled in"),
        )
        rows = tuple(
            (blank.title, blank.hint, words.where(blank), words.BOX if blank.is_check else "_" * 12)
            for blank in label.blanks
        )
        blocks += [Heading("What else the label needs", 3), Table("Other particulars", columns, rows)]
    return blocks


def cost_blocks(cost: UnitCost) -> list[Block]:
    """Return what a unit costs, part by part, the ceiling and other batch sizes."""
    money = cost.currency
    columns = (
        Column("part", head=True), Column(f"{money}/unit", "decimal"), Column("%", "decimal"), Column("how"),
    )  # fmt: skip
    rows = tuple((p.part, fixed(p.per_unit, 2), fixed(p.share_percent, 0), p.how) for p in cost.parts)
    total = ("total", fixed(cost.total, 2), "100", "")
    blocks: list[Block] = [
        Heading("Unit cost"),
        Paragraph(words.unit_line(cost)),
        Table("Cost of one unit", columns, rows, total),
    ]
    way = words.ceiling(cost)
    if way:
        blocks += [Heading("What the contents may cost", 3), Bullets(way)]
    if cost.scenarios:
        names = (
            "batch, g", "units", "contents", "packaging", "labour", "tests", "overhead", "total", "left, g",
        )  # fmt: skip
        sizes = tuple(Column(name, "decimal") for name in names)
        lines = tuple(
            (
                short(s.batch_g), str(s.units), fixed(s.contents, 2), fixed(s.packaging, 2), fixed(s.labour, 2),
                fixed(s.tests, 2), fixed(s.overhead, 2), fixed(s.total, 2), fixed(s.left_over_g, 0),
            )
            for s in cost.scenarios
        )  # fmt: skip
        blocks += [
            Heading(f"Other batch sizes, {money}/unit", 3),
            Table("Cost of a unit by batch size", sizes, lines),
        ]
    materials = (
        Column("material", head=True),
        Column(f"{money}/unit", "decimal"),
        Column("% of contents", "decimal"),
    )
    shown = tuple((m.name, fixed(m.per_unit, 3), fixed(m.share_percent, 0)) for m in cost.materials)
    blocks += [Heading("Contents by material", 3), Table("Contents by material", materials, shown)]
    return [*blocks, Bullets(cost.notes, tone="quiet")] if cost.notes else blocks


def shopping_blocks(found: Shopping) -> list[Block]:
    """Return the shopping list: packs, suppliers, what is left and what nearly saved a pack."""
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
    if orders:
        blocks += [Heading("By supplier", 3), Bullets(orders)]
    names = {line.material: line.name for line in found.lines}
    if found.near_misses:
        told = tuple(
            words.near_miss(miss, names[miss.material], found.currency) for miss in found.near_misses
        )
        blocks += [Heading("Nearly a pack less", 3), Bullets(told)]
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
