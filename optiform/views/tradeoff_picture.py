"""The picture of a trade-off: a self-contained SVG with its text alternative, or a PNG.

Drawn with matplotlib, an optional library: ``pip install 'optiform[pictures]'``.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from optiform.views import drawing, svg
from optiform.views import tradeoff_words as said
from optiform.views.drawing import BLUE, GREEN, INK, ORANGE, PURPLE, QUIET, SKY, VERMILION

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from optiform.answers.tradeoff import Curve, TradeOff
    from optiform.views.html import Markup

COLOURS = (BLUE, VERMILION, GREEN, ORANGE, PURPLE, SKY)
DASHES = ("-", "--", "-.", ":")
SIZE = (7.2, 4.6)


def tradeoff_drawing(found: TradeOff, name: str = "tradeoff") -> Markup:
    """Return the picture as an `<svg>` element for a page."""
    with drawing.quiet():
        return svg.inline(_figure(found), name, said.heading(found), description(found))


def tradeoff_svg(found: TradeOff) -> str:
    """Return the picture as an SVG file that needs nothing else."""
    drawn = str(tradeoff_drawing(found)).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n'


def tradeoff_png(found: TradeOff) -> bytes:
    """Return the picture as a PNG file, its description in the file's text."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    written = BytesIO()
    with drawing.quiet():
        figure = _figure(found)
        FigureCanvasAgg(figure)
        texts = {"Software": None, "Title": said.heading(found), "Description": description(found)}
        figure.savefig(written, format="png", dpi=150, metadata=texts)
    return written.getvalue()


def description(found: TradeOff) -> str:
    """Return what the picture says, for whoever does not see it."""
    parts = [said.asked(found)]
    for curve in found.curves:
        words = said.findings(found, curve)
        parts.append(
            f"With {said.limit(curve)}: {' '.join(words)}" if curve.third is not None else " ".join(words)
        )
    return " ".join(parts)


def _figure(found: TradeOff) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=SIZE, layout="constrained")
    chart = figure.add_subplot()
    for place, curve in enumerate(found.curves):
        if curve.stretches:
            _draw(chart, found, curve, place)
    if found.side == "at_most":
        chart.invert_xaxis()
    chart.spines[["top", "right"]].set_visible(False)
    chart.set_xlabel(said.named(f"{found.against} {said.SIDES[found.side]}", found.against_unit))
    chart.set_ylabel(said.named(found.of, found.of_unit))
    chart.set_title(said.heading(found), loc="left", fontsize=11)
    if any(curve.third is not None for curve in found.curves):
        chart.legend(frameon=False)
    return figure


def _draw(chart: Axes, found: TradeOff, curve: Curve, place: int) -> None:
    """Draw one curve: unbroken where it is straight, a dotted riser where it jumps, dots where materials change."""
    colour, dashes = COLOURS[place % len(COLOURS)], DASHES[place % len(DASHES)]
    label = said.limit(curve) or "_curve"
    runs: list[tuple[list[float], list[float]]] = [([], [])]
    for stretch in curve.stretches:
        if stretch.jump > 0 and runs[-1][0]:
            foot = runs[-1][1][-1]
            chart.plot(
                [stretch.start.bound] * 2,
                [foot, stretch.start.value],
                color=colour,
                linewidth=1,
                linestyle=":",
            )
            runs.append(([], []))
        runs[-1][0].extend((stretch.start.bound, stretch.end.bound))
        runs[-1][1].extend((stretch.start.value, stretch.end.value))
    for number, (bounds, values) in enumerate(runs):
        named = label if number == 0 else f"_{label}"
        chart.plot(bounds, values, color=colour, linewidth=2, linestyle=dashes, label=named)
    changed = [stretch.start for stretch in curve.stretches if stretch.change == "structure"]
    chart.plot(
        [knot.bound for knot in changed], [knot.value for knot in changed],
        linestyle="none", marker="o", markersize=3.5, color=colour, markerfacecolor="#ffffff", label="_changes",
    )  # fmt: skip
    for knee in curve.knees:
        chart.plot(
            [knee.bound],
            [knee.value],
            marker="D",
            markersize=6,
            color=colour,
            linestyle="none",
            label="_knee",
        )
        words = f"{'knee' if knee.main else ''} {said.bound(found, knee.bound, unit=False)}".strip()
        chart.annotate(
            words, (knee.bound, knee.value), (6, -12), textcoords="offset points", fontsize=9, color=INK
        )
    if curve.here is not None and curve.here.value is not None:
        chart.plot(
            [curve.here.bound], [curve.here.value], marker="X", markersize=8, color=INK, linestyle="none"
        )
        spot = (curve.here.bound, curve.here.value)
        chart.annotate("the brief", spot, (6, 6), textcoords="offset points", fontsize=9, color=QUIET)
