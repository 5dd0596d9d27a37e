"""Who brings what: each measure of a formula taken apart by material."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.tolerances import TOLERANCE
from optiform.views.render.blocks import Block, Column, Heading, Paragraph, Table
from optiform.views.render.numbers import fixed, short

if TYPE_CHECKING:
    from optiform.answers.model.answer import Figure, Formula

IN_THE_LINES = ("cost", "ingredients")
"""Measures whose parts stand in the table of materials already, or are one each."""

FIGURES = 3


def contribution_blocks(formula: Formula) -> list[Block]:
    """Return each measure with what every material adds to it, the largest first; empty where nothing adds up."""
    columns = (Column("measure", head=True), Column("value", "decimal"), Column("brought by"))
    rows = tuple(
        (figure.measure, fixed(figure.value, figure.digits), _brought(figure))
        for figure in formula.figures
        if figure.measure not in IN_THE_LINES and _adds_up(figure)
    )
    if not rows:
        return []
    words = "In the unit of each measure; the parts add up to the value, and the cost of each material stands above."
    return [Heading("Who brings what", 3), Paragraph(words), Table("Contributions", columns, rows)]


def _adds_up(figure: Figure) -> bool:
    if figure.value is None or not figure.parts:
        return False
    together = math.fsum(part for _, part in figure.parts)
    return abs(together - figure.value) <= TOLERANCE * max(1.0, abs(figure.value))


def _brought(figure: Figure) -> str:
    order = sorted(figure.parts, key=lambda part: (-abs(part[1]), part[0]))
    return "; ".join(f"{name} {_three(part)}" for name, part in order if part)


def _three(value: float) -> str:
    """Return a part in three figures, however small it is beside the others."""
    return short(float(f"{value:.{FIGURES}g}"))
