"""The pictures of a formula: composition, limits, cost, mildness, pH, and what differs by rank."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.drawing import (
    BLUE,
    FAINT,
    GREEN,
    GREY,
    INK,
    ORANGE,
    PURPLE,
    QUIET,
    SKY,
    SMALL,
    VERMILION,
    WIDTH,
    Anchor,
    Sheet,
    width_of,
)
from optiform.views.render.numbers import fixed, percent, short
from optiform.views.words import picture_words as said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.describe.portrait import Function, Harshness, Portion
    from optiform.answers.model.answer import Formula, Slack
    from optiform.views.render.html import Markup

COLOURS = {
    "water": SKY,
    "surfactant": BLUE,
    "thickener": GREEN,
    "preservative": PURPLE,
    "chelator": PURPLE,
    "acid": VERMILION,
    "base": VERMILION,
    "salt": VERMILION,
    **dict.fromkeys(("humectant", "oil", "emulsifier", "solubiliser", "conditioner"), ORANGE),
    **dict.fromkeys(("extract", "hydrosol", "fragrance"), GREEN),
}
DARK = frozenset({BLUE, GREEN})
LEFT, RIGHT = 92.0, 268.0
"""Where the two ends of a window stand in the picture of limits."""

OPEN = 32.0
"""How far an open side reaches beyond."""

TALL = 48.0
EDGE = 12.0
READABLE = 30.0
"""A part at least so wide has its number written inside."""


def composition(functions: Sequence[Function], name: str) -> Markup:
    """Draw the whole as one strip, and everything but water again, function by function, on a larger scale."""
    water = [group for group in functions if group.name == "water"]
    rest = [group for group in functions if group.name != "water"]
    wet = sum(group.percent for group in water) / 100.0
    sheet = Sheet(58.0 + 34.0 * len(rest))
    _strip(sheet, wet, water[0].percent if water else 0.0)
    largest = max((group.percent for group in rest), default=1.0)
    for place, group in enumerate(rest):
        top = 58.0 + 34.0 * place
        sheet.words(0, top + 10, group.name, bold=True)
        sheet.words(WIDTH, top + 10, f"{percent(group.percent)} %", anchor="right")
        left = 0.0
        for part in group.materials:
            width = WIDTH * part.value / largest
            colour = COLOURS.get(group.name, GREY)
            sheet.bar(left, top + 14, width, 13, colour, edge="#ffffff" if width > 3 else colour)
            if width >= READABLE and len(group.materials) > 1:
                ink = "#ffffff" if colour in DARK else INK
                sheet.words(
                    left + width / 2, top + 24, percent(part.value), size=SMALL, anchor="center", colour=ink
                )
            left += width
    return sheet.finish(name, said.COMPOSITION, said.composition(functions))


def _strip(sheet: Sheet, wet: float, water: float) -> None:
    """Draw water beside everything else to scale, and lines that lead to the enlarged rest."""
    edge = WIDTH * min(max(wet, 0.0), 1.0)
    sheet.words(0, 10, f"water {percent(water)} %", bold=True)
    sheet.words(WIDTH, 10, "everything else, enlarged below", anchor="right")
    sheet.bar(0, 15, edge, 18, SKY, edge="#ffffff")
    sheet.bar(edge, 15, WIDTH - edge, 18, BLUE, edge="#ffffff")
    sheet.line((edge, 0), (34, 52), colour=QUIET, width=0.7, dashes=":")
    sheet.line((WIDTH, WIDTH), (34, 52), colour=QUIET, width=0.7, dashes=":")


def limits(rows: Sequence[Slack], name: str, *, title: str, description: str) -> Markup:
    """Draw one whisker per limit, from bound to bound, and where the formula stands in it."""
    sheet = Sheet(TALL * len(rows))
    for place, row in enumerate(rows):
        top = TALL * place
        told = said.standing(row)
        sheet.words(WIDTH, top + 13, told, anchor="right", bold=row.state != "inside", size=SMALL)
        sheet.words(0, top + 13, said.limit(row), room=WIDTH - width_of(told, SMALL, bold=True) - 10)
        _whisker(sheet, row, top + 26.5)
        _stand(sheet, row, top + 26.5)
        if place:
            sheet.line((0, WIDTH), (top, top), colour=FAINT, width=0.6)
    return sheet.finish(name, title, description)


def _whisker(sheet: Sheet, row: Slack, middle: float) -> None:
    """Draw a window: a cap and its number at each bound, an arrow where a side is open."""
    ends: tuple[tuple[float | None, float, float, str, Anchor], ...] = (
        (row.at_least, LEFT, -1, "<", "right"),
        (row.at_most, RIGHT, 1, ">", "left"),
    )
    places = [x if bound is not None else x + outwards * OPEN for bound, x, outwards, _, _ in ends]
    sheet.line((places[0], places[1]), (middle, middle), colour=QUIET, width=2.2)
    for (bound, x, outwards, arrow, anchor), place in zip(ends, places, strict=True):
        if bound is None:
            sheet.mark(place, middle, arrow, colour=QUIET)
            continue
        sheet.mark(x, middle, "|", size=11)
        if bound != said.missed(row):
            sheet.words(x + 11 * outwards, middle + 3.5, short(bound), size=SMALL, anchor=anchor)


def _stand(sheet: Sheet, row: Slack, middle: float) -> None:
    """Draw where the formula stands: a diamond at a limit, a ring inside, a cross beyond; its value below."""
    x = LEFT + (RIGHT - LEFT) * row.place
    if row.state == "broken":
        x = min(max(x, EDGE), WIDTH - EDGE)
        bound = LEFT if row.place < 0 else RIGHT
        sheet.line((bound, x), (middle, middle), colour=VERMILION, width=1.4, dashes=":")
        sheet.mark(x, middle, "X", size=10, colour=VERMILION)
    else:
        x = min(max(x, LEFT - OPEN / 2), RIGHT + OPEN / 2)
        if row.state == "at the limit":
            sheet.mark(x, middle, "D", size=8, colour=VERMILION)
        else:
            sheet.mark(x, middle, "o", size=8.5, colour=BLUE, filled=False)
    third = WIDTH / 3
    anchor: Anchor = "left" if x < third else "right" if x > 2 * third else "center"
    shift = -7 if anchor == "left" else 7 if anchor == "right" else 0
    sheet.words(x + shift, middle + 17, said.value(row), size=SMALL, anchor=anchor)


def costs(parts: Sequence[Portion], currency: str, name: str) -> Markup:
    """Draw what each material costs, the dearest first."""
    sheet = Sheet(27.0 * len(parts))
    largest = max((part.value for part in parts), default=0.0) or 1.0
    for place, part in enumerate(parts):
        top = 27.0 * place
        figures = f"{fixed(part.value, 2)} ({said.share(part.share)})"
        sheet.words(WIDTH, top + 10, figures, anchor="right")
        sheet.words(0, top + 10, part.name, room=WIDTH - width_of(figures) - 10)
        sheet.bar(0, top + 14, WIDTH * max(part.value, 0.0) / largest, 7, ORANGE)
    return sheet.finish(name, said.COST, said.costs(parts, currency))


def mildness(parts: Sequence[Harshness], value: float, wanted: float | None, name: str) -> Markup:
    """Draw how the materials bring the mildness down from 100, step by step."""
    tall, head = 46.0, 18.0
    foot = head + tall * len(parts)
    sheet = Sheet(foot + (34 if wanted is None else 48))
    anchors: dict[int, Anchor] = {0: "left", 100: "right"}
    for tick in (0, 25, 50, 75, 100):
        sheet.words(
            WIDTH * tick / 100, 11, str(tick), size=SMALL, anchor=anchors.get(tick, "center"), colour=QUIET
        )
    here = 100.0
    for place, part in enumerate(parts):
        top = head + tall * place
        sheet.words(0, top + 12, part.name, room=WIDTH - 80)
        sheet.words(WIDTH, top + 12, said.points(part.lost), anchor="right", bold=True)
        sheet.line((0, WIDTH), (top + 22, top + 22), colour=FAINT, width=0.8)
        for tick in (0, 25, 50, 75, 100):
            x = min(max(WIDTH * tick / 100, 0.5), WIDTH - 0.5)
            sheet.line((x, x), (top + 18, top + 26), colour=GREY, width=0.8)
        sheet.bar(WIDTH * (here - part.lost) / 100, top + 17, WIDTH * part.lost / 100, 10, PURPLE)
        sheet.words(0, top + 39, said.weight(part), size=SMALL, colour=QUIET)
        here -= part.lost
    _left(sheet, value, f"mildness {fixed(value, 0)}", foot + 14, "D")
    if wanted is not None:
        _left(sheet, wanted, f"wanted at least {short(wanted)}", foot + 34, "|")
    return sheet.finish(name, said.MILDNESS, said.mildness(parts, value))


def _left(sheet: Sheet, value: float, words: str, middle: float, kind: str) -> None:
    """Draw a line from 0 to what is left of the mildness, its end marked and named."""
    x = WIDTH * value / 100
    sheet.line((0, x), (middle, middle), colour=QUIET, width=1.4)
    sheet.mark(x, middle, kind, size=9)
    inside = value >= 60
    sheet.words(x - 9 if inside else x + 9, middle - 4, words, anchor="right" if inside else "left",
                size=SMALL, bold=kind == "D")  # fmt: skip


def ranks(
    formulas: Sequence[Formula], rows: Sequence[tuple[str, tuple[float | None, ...]]], name: str
) -> Markup:
    """Draw which material is in which formula: the area of a disc is its amount."""
    head, tall = 40.0, 38.0
    sheet = Sheet(head + tall * len(rows))
    wide = WIDTH / len(formulas)
    largest = max((amount for _, amounts in rows for amount in amounts if amount), default=1.0)
    for column, formula in enumerate(formulas):
        x = wide * (column + 0.5)
        sheet.words(x, 12, f"rank {formula.rank}", anchor="center", bold=True)
        sheet.words(x, 27, fixed(formula.cost, 2), anchor="center", colour=QUIET)
    for place, (material, amounts) in enumerate(rows):
        top = head + tall * place
        sheet.line((0, WIDTH), (top - 4, top - 4), colour=FAINT, width=0.5)
        sheet.words(0, top + 9, material, room=WIDTH)
        for column, amount in enumerate(amounts):
            x = wide * column + 0.5 * wide - 16
            if not amount:
                sheet.words(x + 16, top + 26, "none", anchor="center", size=SMALL, colour=QUIET)
                continue
            size = max(2.5, 18.0 * (amount / largest) ** 0.5)
            sheet.mark(x, top + 22, "o", size=size, colour=BLUE)
            sheet.words(x + 13, top + 26, percent(amount), size=10)
    return sheet.finish(name, said.RANKS, said.ranks(formulas, rows))
