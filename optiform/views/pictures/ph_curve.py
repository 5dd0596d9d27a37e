"""Draws the pH of a formula against added acid or base, with the window asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optiform.bounds import window_text
from optiform.views.pictures.drawing import (
    BLUE,
    INK,
    ORANGE,
    QUIET,
    SKY,
    SMALL,
    VERMILION,
    WIDTH,
    Sheet,
    drawn,
)
from optiform.views.words.blocks import Card, Column, Table
from optiform.views.words.numbers import fixed, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from optiform.answers.describe.ph_curve import Curve

TITLE = "How its pH answers to acid and base"
READ = (
    "Computed for a typical lot; the range to have ready is that of likely lots. Add in portions and confirm with a "
    "meter."
)
EVERY = 6
"""Of the points of a curve every so many stand in its table."""
HEIGHT = 280.0
TALL = HEIGHT - 78.0
"""Height of the chart itself."""
LIFT, LINE = 5.0, SMALL + 6.0
"""Words stand so far above a line; so much room a line of words takes."""
NAMED: dict[str, Any] = {
    "textcoords": "offset points",
    "fontsize": SMALL,
    "fontweight": "bold",
    "zorder": 6,
    "bbox": {"facecolor": "#ffffff", "edgecolor": "none", "alpha": 0.85, "pad": 1.0},
}


def card(found: Curve, rank: int) -> Card:
    """Return the picture and its table, the formula itself among the points."""
    shown = sorted({*found.points[::EVERY], found.points[-1], found.formula})
    digits = 3 if found.kind == "dose" else 1
    columns = (Column(_axis(found), "decimal", head=True), Column("pH", "decimal"), Column("what it is"))
    rows = tuple((fixed(x, digits), fixed(y, 1), _what(found, x, y)) for x, y in shown)
    picture = drawn(lambda: draw(found, f"ph-{rank}"))
    return Card(TITLE, picture, f"{_summary(found)} {READ}", Table(f"{TITLE}, formula {rank}", columns, rows))


def _what(found: Curve, amount: float, pH: float) -> str:
    if (amount, pH) == found.formula:
        return "the formula"
    if found.kind == "dose" and amount == 0:
        return "undosed"
    low, high = found.window
    inside = (low is None or pH >= low) and (high is None or pH <= high)
    return "within the wanted pH" if inside and found.window != (None, None) else ""


def _axis(found: Curve) -> str:
    """Return the label of the axis: what is added, and its unit."""
    return f"{found.added}, {found.unit}"


def _here(found: Curve) -> str:
    """Return the formula's own place on its curve."""
    pH = f"pH {fixed(found.formula[1], 1)}"
    return f"{pH} at {percent(found.formula[0])} %" if found.kind == "dose" else f"the formula: {pH}"


def _summary(found: Curve) -> str:
    """Return the text alternative of the picture."""
    told = [f"pH against {_axis(found)}. The formula: {_here(found).removeprefix('the formula: ')}."]
    if found.natural_pH is not None:
        told.append(f"Without the acid and base that only set it: pH {fixed(found.natural_pH, 1)}.")
    if found.window != (None, None):
        told.append(f"Wanted: {window_text(*found.window)}.")
    if found.works != (None, None):
        told.append(f"The preservative, {found.system}, works at pH {window_text(*found.works)}.")
    return " ".join(told)


def draw(found: Curve, name: str) -> str:
    """Draw the pH against the acid or base added."""
    sheet = Sheet(HEIGHT, axes=(28.0, 22.0, WIDTH - 40.0, TALL))
    chart = sheet.chart
    if chart is None:
        raise ValueError("a sheet without axes")
    amounts = [amount for amount, _ in found.points]
    values = [pH for _, pH in found.points]
    ends = [*values, *(end for end in found.window if end is not None)]
    low, high = min(ends) - 0.4, max(ends) + 0.5
    first, last = min(amounts), max(amounts)
    margin = 0.03 * (last - first)
    chart.set(xlim=(first - margin, last + margin), ylim=(low, high))
    chart.spines[["top", "right"]].set_visible(False)
    chart.tick_params(labelsize=SMALL, length=3)
    _window(chart, found, low, high, (first - margin, last + margin))
    chart.plot(amounts, values, color=BLUE, linewidth=2.2, zorder=3)
    if found.ready is not None:
        span = (max(found.ready[0], first), min(found.ready[1], last))
        foot = low + 0.035 * (high - low)
        chart.plot(span, (foot, foot), color=ORANGE, linewidth=6, solid_capstyle="butt", zorder=2)
        chart.plot(span, (foot, foot), linestyle="none", marker="|", markersize=10, color=INK, zorder=3)
    _marks(chart, found, (first, last), (low, high))
    sheet.words(0, 12, "pH", bold=True)
    sheet.words(WIDTH - 12, HEIGHT - 22, _axis(found), anchor="right", room=WIDTH - 14)
    if found.ready is not None:
        ready = f"bar: have {percent(found.ready[0])} to {percent(found.ready[1])} {found.unit} ready"
        sheet.words(WIDTH - 12, HEIGHT - 6, ready, anchor="right", size=SMALL, colour=QUIET)
    return sheet.finish(name, TITLE, _summary(found))


def _window(chart: Axes, found: Curve, low: float, high: float, across: tuple[float, float]) -> None:
    """Draw the window of the brief as a band with its words."""
    bottom, top = found.window
    if bottom is None and top is None:
        return
    chart.axhspan(
        low if bottom is None else bottom, high if top is None else top, color=SKY, alpha=0.35, linewidth=0
    )
    for end in (bottom, top):
        if end is not None:
            chart.axhline(end, color=INK, linewidth=0.9, linestyle="--", zorder=2)
    named = _named_end(found)
    if named is not None:
        chart.annotate(
            f"wanted {window_text(*found.window)}",
            (across[1], named),
            xytext=(-2, LIFT),
            textcoords="offset points",
            ha="right",
            fontsize=SMALL,
            color=INK,
        )


def _named_end(found: Curve) -> float | None:
    """Return the end of the window that carries its words."""
    bottom, top = found.window
    return top if top is not None else bottom


def _clear(found: Curve, upright: tuple[float, float], lift: float, way: int = 1) -> float:
    """Return the offset of the formula's words, clear of those of the window."""
    named = _named_end(found)
    if named is None:
        return lift
    taken = (named - found.formula[1]) * TALL / (upright[1] - upright[0]) + LIFT
    return taken + way * LINE if abs(lift - taken) < LINE else lift


def _marks(chart: Axes, found: Curve, across: tuple[float, float], upright: tuple[float, float]) -> None:
    """Mark the formula, and the natural pH where it lies on the curve; name both."""
    x, y = found.formula
    chart.plot([x], [y], marker="o", markersize=9, color=INK, zorder=5)
    low = y < (upright[0] + upright[1]) / 2
    leftwards = x > (across[0] + across[1]) / 2
    lift = _clear(found, upright, 26.0) if low else _clear(found, upright, 2.0, -1)
    chart.annotate(
        _here(found),
        (x, y),
        xytext=(-14 if leftwards else 14, lift),
        ha="right" if leftwards else "left",
        arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.8, "shrinkB": 4} if lift > LINE else None,
        **NAMED,
    )
    if found.natural_pH is None:
        return
    words = f"undosed: pH {fixed(found.natural_pH, 1)}"
    if found.kind == "strong":
        chart.axhline(found.natural_pH, color=VERMILION, linewidth=1.2, linestyle=":", zorder=2)
        ends = [end for end in found.window if end is not None]
        crowded = any(abs(end - found.natural_pH) < (upright[1] - upright[0]) / 10 for end in ends)
        side = across[0] if crowded else across[1]
        chart.annotate(
            words, (side, found.natural_pH), xytext=(0, 4), ha="left" if crowded else "right", **NAMED
        )
        return
    chart.plot(
        [0.0], [found.natural_pH], marker="^", markersize=9, markerfacecolor="#ffffff", markeredgecolor=VERMILION,
        markeredgewidth=1.8, zorder=5, clip_on=False,
    )  # fmt: skip
    chart.annotate(words, (0.0, found.natural_pH), xytext=(11, -3), **NAMED)
