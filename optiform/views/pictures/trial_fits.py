"""Draws trials beside their fit: readings, and the intervals that the fit predicts."""

from __future__ import annotations

import math
from collections.abc import Callable

from optiform.answers.trials.model import LearnedModel, Point
from optiform.views.pictures.drawing import (
    FAINT,
    INK,
    QUIET,
    SKY,
    SMALL,
    VERMILION,
    WIDTH,
    Anchor,
    Sheet,
    drawn,
)
from optiform.views.words.blocks import Card, Table
from optiform.views.words.numbers import figure

READ = (
    "A bar: where another such wash reads, nine times in ten; its tick is the fit. A dot: what was read. A cross: what "
    "the others did not predict."
)
LEFT, ROW, HEAD = 70.0, 24.0, 20.0


def card(model: LearnedModel, table: Table, number: int) -> Card:
    """Return the picture of the trials of one model, with its table."""
    unit = f", {model.unit}" if model.unit else ""
    title = f"{model.measure}{unit}: fitted and read"
    picture = drawn(lambda: _draw(model, title, f"fitted-{number}"))
    return Card(title, picture, READ, table, level=3)


def _draw(model: LearnedModel, title: str, name: str) -> str:
    foot = HEAD + ROW * len(model.points)
    sheet = Sheet(foot + 6)
    ends = [end for point in model.points for end in (point.low, point.high, point.read)]
    ticks = _ticks(min(ends), max(ends), logarithmic=model.scale == "log10")
    place = _scale(min(*ends, *ticks), max(*ends, *ticks), logarithmic=model.scale == "log10")
    anchors: dict[int, Anchor] = {0: "left", 1: "center", 2: "right"}
    for tick, value in enumerate(ticks):
        sheet.words(place(value), 12, figure(value, 2), size=SMALL, anchor=anchors[tick], colour=QUIET)
        sheet.line((place(value), place(value)), (HEAD - 3, foot), colour=FAINT, width=0.8)
    for row, point in enumerate(model.points):
        _trial(sheet, point, HEAD + ROW * (row + 0.5), place)
    told = "; ".join(
        f"trial {point.trial} read {figure(point.read, 2)}, fitted {figure(point.low, 2)} to {figure(point.high, 2)}"
        for point in model.points
    )
    return sheet.finish(name, title, f"{told}.")


def _trial(sheet: Sheet, point: Point, middle: float, place: Callable[[float], float]) -> None:
    sheet.words(0, middle + 4, f"trial {point.trial}", room=LEFT - 8)
    low, high = place(point.low), place(point.high)
    sheet.line((low, high), (middle, middle), colour=SKY, width=9)
    sheet.line((place(point.fitted), place(point.fitted)), (middle - 5, middle + 5), colour=INK, width=1.2)
    sheet.mark(
        place(point.read), middle, "X" if point.outside else "o", colour=VERMILION if point.outside else INK
    )


def _scale(least: float, most: float, *, logarithmic: bool) -> Callable[[float], float]:
    """Return the function that maps a value to its place on the sheet."""
    first, last = (math.log10(least), math.log10(most)) if logarithmic else (least, most)
    width = (WIDTH - 10 - LEFT) / ((last - first) or 1.0)
    return lambda value: LEFT + ((math.log10(value) if logarithmic else value) - first) * width


def _ticks(least: float, most: float, *, logarithmic: bool) -> tuple[float, float, float]:
    """Return three values to name on the scale, in two figures."""
    middle = math.sqrt(least * most) if logarithmic else (least + most) / 2.0
    first, second, third = (float(f"{value:.2g}") for value in (least, middle, most))
    return first, second, third
