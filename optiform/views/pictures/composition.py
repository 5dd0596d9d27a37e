"""Draws the composition of a formula: one strip of the whole, one without water by function."""

from __future__ import annotations

import math

from optiform.answers.model.answer import Formula, Line
from optiform.views.pictures.drawing import (
    BLUE,
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
    Sheet,
    drawn,
)
from optiform.views.words.blocks import Card, Field, tabulated
from optiform.views.words.numbers import percent

Groups = dict[str, list[Line]]

TITLE = "What it is made of"
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
FIELDS = (
    Field("function", lambda line: line.function, head=True, once=True),
    Field("material", lambda line: line.name),
    Field("% w/w", lambda line: percent(line.percent), "decimal"),
)
READABLE = 30.0
"""A part at least so wide has its number written inside."""


def card(formula: Formula) -> Card:
    """Return the picture and its table."""
    groups = by_function(formula)
    lines = [line for lines in groups.values() for line in lines]
    beside = tabulated(f"{TITLE}, formula {formula.rank}", FIELDS, lines)
    return Card(TITLE, drawn(lambda: _draw(groups, f"made-{formula.rank}")), table=beside)


def by_function(formula: Formula) -> Groups:
    """Return the materials by function: water first, then the largest first."""
    groups: Groups = {}
    for line in sorted(formula.lines, key=lambda line: (-line.percent, line.material)):
        groups.setdefault(line.function, []).append(line)
    order = sorted(groups, key=lambda name: (name != "water", -_total(groups[name]), name))
    return {name: groups[name] for name in order}


def _total(lines: list[Line]) -> float:
    return math.fsum(line.percent for line in lines)


def _draw(groups: Groups, name: str) -> str:
    rest = {function: lines for function, lines in groups.items() if function != "water"}
    water = _total(groups.get("water", []))
    sheet = Sheet(58.0 + 34.0 * len(rest))
    _strip(sheet, water)
    largest = max(map(_total, rest.values()), default=1.0)
    for place, (function, lines) in enumerate(rest.items()):
        top = 58.0 + 34.0 * place
        sheet.words(0, top + 10, function, bold=True)
        sheet.words(WIDTH, top + 10, f"{percent(_total(lines))} %", anchor="right")
        left, colour = 0.0, COLOURS.get(function, GREY)
        for line in lines:
            width = WIDTH * line.percent / largest
            sheet.bar(left, top + 14, width, 13, colour, edge="#ffffff" if width > 3 else colour)
            if width >= READABLE and len(lines) > 1:
                ink, middle = "#ffffff" if colour in DARK else INK, left + width / 2
                sheet.words(middle, top + 24, percent(line.percent), size=SMALL, anchor="center", colour=ink)
            left += width
    told = ", ".join(f"{function} {percent(_total(lines))}" for function, lines in groups.items())
    return sheet.finish(name, TITLE, f"% w/w by function: {told}.")


def _strip(sheet: Sheet, water: float) -> None:
    """Draw water and the rest to scale, and lines to the enlarged rest."""
    edge = WIDTH * min(max(water / 100.0, 0.0), 1.0)
    sheet.words(0, 10, f"water {percent(water)} %", bold=True)
    sheet.words(WIDTH, 10, "everything else, enlarged below", anchor="right")
    sheet.bar(0, 15, edge, 18, SKY, edge="#ffffff")
    sheet.bar(edge, 15, WIDTH - edge, 18, BLUE, edge="#ffffff")
    sheet.line((edge, 0), (34, 52), colour=QUIET, width=0.7, dashes=":")
    sheet.line((WIDTH, WIDTH), (34, 52), colour=QUIET, width=0.7, dashes=":")
