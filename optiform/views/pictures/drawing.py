"""Provides a sheet to draw on, in the pixels of a phone's width: lines, bars, marks and words.

Colours: the palette for colour-blind readers of M. Okabe and K. Ito, "Color Universal Design" (2002,
revised 2008), https://jfly.uni-koeln.de/color/. No colour here is the only sign of anything.
"""

from __future__ import annotations

import warnings
from bisect import bisect_left
from contextlib import contextmanager
from functools import lru_cache
from typing import TYPE_CHECKING, Literal, TypeVar

from optiform.views.pictures import svg
from optiform.views.words.blocks import fit
from optiform.views.words.numbers import fixed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from matplotlib.axes import Axes

INK, QUIET, FAINT = "#1a1a1a", "#555555", "#c9c9c9"
ORANGE, SKY, GREEN, BLUE, VERMILION, PURPLE = "#e69f00", "#56b4e9", "#009e73", "#0072b2", "#d55e00", "#cc79a7"
GREY = "#999999"
WIDTH = 360
TEXT, SMALL = 12.0, 10.5
LONGEST = 120
"""No line of letters this long fits."""
STRIP = 4
"""Rows of a picture that stay together on a printed side."""

Row = TypeVar("Row")

Anchor = Literal["left", "center", "right"]
STYLE = {
    "svg.hashsalt": svg.SALT,
    "svg.fonttype": "none",
    "font.family": "DejaVu Sans",
    "font.size": TEXT,
    "text.parse_math": False,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "path.simplify": False,
}


@contextmanager
def quiet() -> Iterator[None]:
    """Set our own drawing style, whatever the user's settings, and ignore letters that a font lacks."""
    import matplotlib.style

    with warnings.catch_warnings(), matplotlib.style.context(["default", STYLE]):
        warnings.filterwarnings("ignore", message="Glyph", category=UserWarning)
        yield


def drawn(draw: Callable[[], str]) -> str:
    """Return a picture as SVG, drawn in our own style."""
    with quiet():
        return draw()


def in_strips(
    rows: Sequence[Row], draw: Callable[[Sequence[Row], str, str], str], name: str, title: str
) -> str:
    """Return a picture of many rows as several SVGs, between which a printed page may break.

    `draw` draws some of the rows under a name and a title.
    """
    starts = range(0, len(rows), STRIP)
    titles = (title, *[f"{title}, continued"] * len(starts))
    with quiet():
        return "".join(
            draw(rows[start : start + STRIP], f"{name}-{start}", told)
            for start, told in zip(starts, titles, strict=False)
        )


def share(value: float) -> str:
    """Return a share in whole percent; one that is not zero never shows as zero."""
    return "<1 %" if 0 < value < 0.5 else f"{fixed(value, 0)} %"


@lru_cache(maxsize=2048)
def width_of(text: str, size: float = TEXT, *, bold: bool = False) -> float:
    """Return the width of a line in the wide font that ships with the drawing library  [px]."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
    return float(TextPath((0, 0), fit(text), size=size, prop=font).get_extents().x1) if text.strip() else 0.0


def shortened(text: str, room: float, size: float = TEXT, *, bold: bool = False) -> str:
    """Return a line that fits into its room, cut at the end where it must be."""
    text = text[:LONGEST]
    if width_of(text, size, bold=bold) <= room:
        return text

    def cut(letters: int) -> str:
        return f"{text[:letters].rstrip()}..."

    kept = bisect_left(range(len(text)), True, key=lambda k: width_of(cut(k), size, bold=bold) > room) - 1
    return cut(max(kept, 0))


class Sheet:
    """An area, x to the right and y downwards, in pixels."""

    def __init__(
        self, height: float, *, axes: tuple[float, float, float, float] | None = None, across: float = WIDTH
    ) -> None:
        """Open a sheet; `axes` is the area of a chart: left, top, width, height."""
        from matplotlib.figure import Figure

        self.height = height
        self.figure = Figure(figsize=(across / 72, height / 72), dpi=72)
        self.paper: Axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.paper.set(xlim=(0, across), ylim=(height, 0))
        self.paper.axis("off")
        self.chart: Axes | None = None
        if axes is not None:
            left, top, width, tall = axes
            place = (left / across, 1 - (top + tall) / height, width / across, tall / height)
            self.chart = self.figure.add_axes(place)
            self.chart.set_facecolor("none")
        self.figure.patch.set_visible(False)

    def words(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = TEXT,
        colour: str = INK,
        anchor: Anchor = "left",
        bold: bool = False,
        room: float | None = None,
    ) -> None:
        """Write one line of text on its baseline, shortened to the room there is."""
        text = fit(text)
        if room is not None:
            text = shortened(text, room, size, bold=bold)
        weight = "bold" if bold else "normal"
        self.paper.text(x, y, text, fontsize=size, color=colour, ha=anchor, va="baseline", fontweight=weight)

    def line(
        self,
        x: tuple[float, float],
        y: tuple[float, float],
        *,
        colour: str = INK,
        width: float = 1.0,
        dashes: str = "-",
    ) -> None:
        """Draw a straight line."""
        self.paper.plot(x, y, color=colour, linewidth=width, linestyle=dashes, solid_capstyle="butt")

    def bar(
        self, left: float, top: float, width: float, height: float, colour: str, *, edge: str = INK
    ) -> None:
        """Draw a filled rectangle."""
        from matplotlib.patches import Rectangle

        self.paper.add_patch(
            Rectangle(
                (left, top),
                max(width, 0.8),
                height,
                facecolor=colour,
                edgecolor=edge,
                linewidth=0.6,
                zorder=3,
            )
        )

    def mark(
        self, x: float, y: float, kind: str, *, size: float = 7.0, colour: str = INK, filled: bool = True
    ) -> None:
        """Draw one mark: "o" a circle, "D" a diamond, "X" a cross, "<" and ">" arrow heads, "|" a cap."""
        self.paper.plot(
            [x],
            [y],
            marker=kind,
            markersize=size,
            markerfacecolor=colour if filled else "#ffffff",
            markeredgecolor=colour,
            markeredgewidth=1.6,
            linestyle="none",
        )

    def finish(self, name: str, title: str, description: str) -> str:
        """Return the drawing for a page."""
        return svg.inline(self.figure, name, title, description)
