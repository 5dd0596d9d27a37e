"""Draws how each material lowers the mildness of a formula from 100."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.describe.harshness import Harshness
from optiform.answers.model.answer import Formula
from optiform.views.pictures.drawing import (
    FAINT,
    GREY,
    PURPLE,
    QUIET,
    SMALL,
    WIDTH,
    Anchor,
    Sheet,
    drawn,
    share,
)
from optiform.views.words.blocks import Card, Field, tabulated
from optiform.views.words.numbers import fixed, percent, short

TITLE = "Who brings the mildness down"
READ = "An ordinal index: differences under 5 count as equal, and it is no promise for any skin."
FIELDS = (
    Field("material", lambda part: part.name, head=True),
    Field("active matter, % w/w", lambda part: percent(part.active), "decimal"),
    Field("of all, %", lambda part: fixed(part.share, 0), "decimal"),
    Field("index", lambda part: fixed(part.index, 0), "right"),
    Field("points taken", lambda part: fixed(part.lost, 1), "right"),
)
TICKS = (0, 25, 50, 75, 100)


def card(formula: Formula, parts: Sequence[Harshness]) -> Card:
    """Return the picture and its table."""
    figure = formula.figure("mildness")
    value = figure.value or 0.0
    total = ("mildness left", "", "", "", fixed(value, 1))
    beside = tabulated(f"{TITLE}, formula {formula.rank}", FIELDS, parts, total)
    picture = drawn(lambda: _draw(parts, value, figure.at_least, f"mild-{formula.rank}"))
    return Card(TITLE, picture, READ, beside)


def _draw(parts: Sequence[Harshness], value: float, wanted: float | None, name: str) -> str:
    tall, head = 46.0, 18.0
    foot = head + tall * len(parts)
    sheet = Sheet(foot + (34 if wanted is None else 48))
    anchors: dict[int, Anchor] = {0: "left", 100: "right"}
    for tick in TICKS:
        place = WIDTH * tick / 100
        sheet.words(place, 11, str(tick), size=SMALL, anchor=anchors.get(tick, "center"), colour=QUIET)
    here = 100.0
    for row, part in enumerate(parts):
        _step(sheet, part, head + tall * row, here)
        here -= part.lost
    _left(sheet, value, f"mildness {fixed(value, 0)}", foot + 14, "D")
    if wanted is not None:
        _left(sheet, wanted, f"wanted at least {short(wanted)}", foot + 34, "|")
    told = ", ".join(f"{part.name} {_points(part.lost)}" for part in parts)
    return sheet.finish(name, TITLE, f"From 100 down to {fixed(value, 0)}: {told}.")


def _step(sheet: Sheet, part: Harshness, top: float, here: float) -> None:
    """Draw how far one material lowers the mildness."""
    sheet.words(0, top + 12, part.name, room=WIDTH - 80)
    sheet.words(WIDTH, top + 12, _points(part.lost), anchor="right", bold=True)
    sheet.line((0, WIDTH), (top + 22, top + 22), colour=FAINT, width=0.8)
    for tick in TICKS:
        x = min(max(WIDTH * tick / 100, 0.5), WIDTH - 0.5)
        sheet.line((x, x), (top + 18, top + 26), colour=GREY, width=0.8)
    sheet.bar(WIDTH * (here - part.lost) / 100, top + 17, WIDTH * part.lost / 100, 10, PURPLE)
    why = f"{share(part.share)} of active matter, at index {fixed(part.index, 0)}"
    sheet.words(0, top + 39, why, size=SMALL, colour=QUIET)


def _points(lost: float) -> str:
    """Return how far a material lowers the mildness, in whole points."""
    whole = fixed(lost, 0)
    if whole == "0" and lost > 0:
        return "less than 1 point"
    return "-1 point" if whole == "1" else f"-{whole} points"


def _left(sheet: Sheet, value: float, words: str, middle: float, kind: str) -> None:
    """Draw a line from 0 to the final mildness, its end marked and named."""
    x, inside = WIDTH * value / 100, value >= 60
    sheet.line((0, x), (middle, middle), colour=QUIET, width=1.4)
    sheet.mark(x, middle, kind, size=9)
    anchor: Anchor = "right" if inside else "left"
    sheet.words(x - 9 if inside else x + 9, middle - 4, words, anchor=anchor, size=SMALL, bold=kind == "D")
