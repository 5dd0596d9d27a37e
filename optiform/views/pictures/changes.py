"""Draws a reformulation: every amount before and after, and the steps of the aim."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from optiform.answers.model.answer import Answer
from optiform.answers.model.changes import LineChange, Step
from optiform.views.first.masthead import aim_text
from optiform.views.first.reformulation import step_of
from optiform.views.pictures.drawing import (
    BLUE,
    FAINT,
    GREY,
    INK,
    ORANGE,
    QUIET,
    SMALL,
    WIDTH,
    Anchor,
    Sheet,
    drawn,
    in_strips,
    width_of,
)
from optiform.views.words.blocks import Card, Column, Field, Table, joined, tabulated
from optiform.views.words.names import Names
from optiform.views.words.numbers import NOTHING, percent

AMOUNTS, STEPS = "Before and after", "Step by step"
LINES = (
    Field("material that differs", lambda line: line.name, head=True),
    Field("today, % w/w", lambda line: percent(line.before or None), "decimal"),
    Field("new, % w/w", lambda line: percent(line.after or None), "decimal"),
)
ROW, HEAD = 40.0, 16.0
BAR = 7.0
ROOM = 46.0
"""What stands beside a bar has so much room."""


class Level(NamedTuple):
    """One step: what it changes, and the aim before and after it."""

    change: str
    before: float
    after: float


def cards(answer: Answer, names: Names) -> list[Card]:
    """Return the pictures of changed amounts and of the steps, as far as there are any."""
    if answer.changes is None or not answer.formulas:
        return []
    dry = [line for line in answer.changes.lines if line.material != "water"]
    found = []
    if dry:
        told = f"% w/w of what differs, water apart; above today's amount, below the new one. {_counts(dry)}"
        beside = tabulated("What differs, % w/w", LINES, dry)
        largest = max(max(line.before, line.after) for line in dry) or 1.0
        picture = in_strips(dry, partial(_draw_amounts, largest=largest, told=told), "amounts", AMOUNTS)
        found.append(Card(AMOUNTS, picture, told, beside))
    steps = answer.changes.steps
    if len(steps) > 1:
        found.append(_stairs(answer, steps, names))
    return found


def _counts(lines: Sequence[LineChange]) -> str:
    kinds = [line.kind for line in lines]
    words = {"new": "new", "dropped": "out", "more": "more", "less": "less"}
    counted = [f"{kinds.count(kind)} {word}" for kind, word in words.items() if kind in kinds]
    return f"{joined(counted)}."


def _draw_amounts(lines: Sequence[LineChange], name: str, title: str, largest: float, told: str) -> str:
    """Draw two bars for each material, today's hollow and the new one full."""
    sheet = Sheet(HEAD + ROW * len(lines))
    scale = (WIDTH - ROOM) / largest
    sheet.words(0, 10, "hollow: today; full: new", size=SMALL, colour=QUIET)
    for place, line in enumerate(lines):
        top = HEAD + ROW * place
        mark = {"new": "new", "dropped": "out"}.get(line.kind, "")
        sheet.words(WIDTH, top + 12, mark, anchor="right", bold=True, size=SMALL)
        sheet.words(0, top + 12, line.name, room=WIDTH - width_of(mark, SMALL, bold=True) - 10)
        for under, amount, colour in ((16.0, line.before, "#ffffff"), (26.0, line.after, BLUE)):
            wide = scale * amount
            if amount:
                sheet.bar(0.5, top + under, wide, BAR, colour, edge=INK)
            sheet.words(wide + 6, top + under + BAR, percent(amount) if amount else "none", size=9.5)
    return sheet.finish(name, title, told)


def _stairs(answer: Answer, steps: Sequence[Step], names: Names) -> Card:
    unit = answer.aim_unit
    sign = 1.0 if answer.brief is None or answer.brief.aim.sense == "minimise" else -1.0
    levels = [Level(step_of(step, names), step.aim + sign * step.saving, step.aim) for step in steps]
    columns = (
        Column("step", "right"),
        Column("change", head=True),
        Column(f"then, {unit}".rstrip(", "), "decimal"),
    )
    rows = tuple((str(k), level.change, aim_text(level.after, unit)) for k, level in enumerate(levels, 1))
    told = (
        f"{answer.aim}, {unit}: from {aim_text(levels[0].before, unit)} today to "
        f"{aim_text(levels[-1].after, unit)} in {len(levels)} steps; each is a formula that holds everything."
    )
    picture = drawn(lambda: _draw_stairs(levels, unit, told))
    return Card(f"{STEPS}: {answer.aim}, {unit}", picture, told, Table("Steps", columns, rows))


def _draw_stairs(levels: Sequence[Level], unit: str, told: str) -> str:
    """Draw each step as a bar from where it starts to where it leads, on one scale that need not begin at zero."""
    sheet = Sheet(HEAD + ROW * len(levels))
    values = [value for level in levels for value in (level.before, level.after)]
    low, high = min(values), max(values)
    room = (high - low) or 1.0

    def x(value: float) -> float:
        return ROOM + (WIDTH - 2 * ROOM) * (value - low) / room

    start = x(levels[0].before)
    side: Anchor = "right" if start > WIDTH / 2 else "left"
    sheet.words(start, 10, f"today {aim_text(levels[0].before, unit)}", anchor=side, size=SMALL)
    for place, level in enumerate(levels):
        top = HEAD + ROW * place
        sheet.words(0, top + 12, f"{place + 1}. {level.change}", room=WIDTH)
        left, right = sorted((x(level.before), x(level.after)))
        sheet.line((ROOM, WIDTH - ROOM), (top + 25, top + 25), colour=FAINT, width=0.6)
        sheet.bar(left, top + 19, right - left, 12, ORANGE if level.after < level.before else GREY)
        onwards = level.after < level.before
        sheet.words(
            left - 5 if onwards else right + 5,
            top + 29,
            aim_text(level.after, unit) or NOTHING,
            anchor="right" if onwards else "left",
            size=SMALL,
        )
    return sheet.finish("stairs", STEPS, told)
