"""Draws a trade-off as a self-contained SVG with a text alternative, or as a PNG."""

from __future__ import annotations

import itertools
from io import BytesIO
from typing import TYPE_CHECKING

from optiform.views.pictures import drawing, svg
from optiform.views.pictures.drawing import BLUE, GREEN, INK, ORANGE, PURPLE, QUIET, SKY, SMALL, VERMILION
from optiform.views.words import tradeoff_words as said
from optiform.views.words.blocks import Drawn
from optiform.views.words.tradeoff_scale import drawn as drawn_part

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from optiform.answers.tradeoff import Curve, TradeOff

COLOURS = (BLUE, VERMILION, GREEN, ORANGE, PURPLE, SKY)
DASHES = ("-", "--", "-.", ":")
WIDE, NARROW = (10.0, 5.4), (5.0, 4.8)
"""The picture for a page and for a phone  [inch of 72 pixels]."""
ROOM = 0.04


def tradeoff_drawn(found: TradeOff) -> Drawn:
    """Return the picture for a page, wide and narrow."""
    return Drawn(tradeoff_drawing(found), tradeoff_drawing(found, "tradeoff-narrow", NARROW))


def tradeoff_drawing(found: TradeOff, name: str = "tradeoff", size: tuple[float, float] = WIDE) -> str:
    """Return the picture as an `<svg>` element for a page."""
    with drawing.quiet():
        return svg.inline(_figure(found, size), name, said.heading(found), description(found))


def tradeoff_svg(found: TradeOff) -> str:
    """Return the picture as an SVG file that needs nothing else."""
    (drawn,) = svg.documents(tradeoff_drawing(found))
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n'


def tradeoff_png(found: TradeOff) -> bytes:
    """Return the picture as a PNG file, its description in the file's text."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    written = BytesIO()
    with drawing.quiet():
        figure = _figure(found, WIDE)
        FigureCanvasAgg(figure)
        texts = {"Software": None, "Title": said.heading(found), "Description": description(found)}
        figure.savefig(written, format="png", dpi=150, metadata=texts)
    return written.getvalue()


def description(found: TradeOff) -> str:
    """Return the text alternative of the picture."""
    parts = [said.asked(found)]
    for curve in found.curves:
        words = said.findings(found, curve)
        parts.append(
            f"With {said.limit(curve)}: {' '.join(words)}" if curve.third is not None else " ".join(words)
        )
    return " ".join(parts)


def _figure(found: TradeOff, size: tuple[float, float]) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    chart = figure.add_subplot()
    shown = [(place, curve) for place, curve in enumerate(found.curves) if curve.stretches]
    for place, curve in shown:
        _draw(chart, found, curve, place)
    if shown:
        _mark_brief(chart, found, [curve for _, curve in shown])
        left, right = drawn_part([curve for _, curve in shown])
        if left != right:  # the tightest bound to the right, with margins
            chart.set_xlim(left - ROOM * (right - left), right + ROOM * (right - left))
    chart.spines[["top", "right"]].set_visible(False)
    chart.set_xlabel(said.named(f"{found.against} {said.SIDES[found.side]}", found.against_unit))
    chart.set_ylabel(said.named(found.of, found.of_unit))
    if any(curve.third is not None for curve in found.curves):
        chart.legend(frameon=False, fontsize=SMALL)
    return figure


def _draw(chart: Axes, found: TradeOff, curve: Curve, place: int) -> None:
    """Draw one curve: unbroken where it is straight, a dotted riser where it jumps, dots where materials change."""
    colour, dashes = COLOURS[place % len(COLOURS)], DASHES[place % len(DASHES)]
    for before, stretch in itertools.pairwise(curve.stretches):
        if stretch.jump > 0:
            riser = ([stretch.start.bound] * 2, [before.end.value, stretch.start.value])
            chart.plot(*riser, color=colour, linewidth=1, linestyle=":")
    for number, (bounds, values) in enumerate(_runs(curve)):
        named = said.legend(found, curve) if number == 0 and curve.third is not None else "_curve"
        chart.plot(bounds, values, color=colour, linewidth=2, linestyle=dashes, label=named)
    changed = [stretch.start for stretch in curve.stretches if stretch.change == "structure"]
    chart.plot(
        [knot.bound for knot in changed], [knot.value for knot in changed],
        linestyle="none", marker="o", markersize=3.5, color=colour, markerfacecolor="#ffffff", label="_changes",
    )  # fmt: skip
    _mark_knees(chart, found, curve, colour)


def _runs(curve: Curve) -> list[tuple[list[float], list[float]]]:
    """Return bounds and values of the unbroken parts of a curve."""
    runs: list[tuple[list[float], list[float]]] = [([], [])]
    for stretch in curve.stretches:
        if stretch.jump > 0 and runs[-1][0]:
            runs.append(([], []))
        path = curve.path(stretch)
        runs[-1][0].extend(bound for bound, _ in path)
        runs[-1][1].extend(value for _, value in path)
    return runs


def _mark_knees(chart: Axes, found: TradeOff, curve: Curve, colour: str) -> None:
    """Mark the knees; where there are several curves, only the legend names them."""
    for knee in curve.knees:
        spot = (knee.bound, knee.value)
        chart.plot(*spot, marker="D", markersize=6, color=colour, linestyle="none", label="_knee")
        if curve.third is None:
            words = f"{'knee' if knee.main else ''} {said.bound(found, knee.bound, unit=False)}".strip()
            _name(chart, words, spot, INK, above=False, rising=found.sense == "minimise")


def _mark_brief(chart: Axes, found: TradeOff, curves: Sequence[Curve]) -> None:
    """Mark the bound of the brief on each curve, named once, at the highest."""
    here = [curve.here for curve in curves if curve.here is not None]
    spots = sorted(
        ((one.bound, one.value) for one in here if one.value is not None), key=lambda spot: spot[1]
    )
    for spot in spots:
        chart.plot(*spot, marker="X", markersize=8, color=INK, linestyle="none")
    for spot in spots[-1:]:
        _name(chart, "the brief", spot, QUIET, above=True, rising=found.sense == "minimise")


def _name(
    chart: Axes, words: str, spot: tuple[float, float], colour: str, *, above: bool, rising: bool
) -> None:
    """Name a point on the empty side of the curve: left above a rising one, right above a falling one."""
    left = above is rising
    chart.annotate(
        words, spot, (-6 if left else 6, 6 if above else -12), textcoords="offset points",
        fontsize=SMALL, color=colour, horizontalalignment="right" if left else "left",
    )  # fmt: skip
