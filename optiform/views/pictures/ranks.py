"""What differs from rank to rank: which material is in which formula, and how much of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.pictures.drawing import BLUE, FAINT, QUIET, SMALL, WIDTH, Sheet, drawn
from optiform.views.words.blocks import Card, joined
from optiform.views.words.numbers import fixed, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.model.answer import Formula

    Rows = Sequence[tuple[str, tuple[float | None, ...]]]

TITLE = "What differs from rank to rank"


def card(formulas: Sequence[Formula], rows: Rows) -> Card:
    """Return the picture; its numbers stand in the tables of what differs."""
    return Card(TITLE, drawn(lambda: _draw(formulas, rows)))


def _draw(formulas: Sequence[Formula], rows: Rows) -> str:
    """Draw the amount of each material in each formula as the area of a disc."""
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
    names = joined([material for material, _ in rows])
    told = f"{len(formulas)} formulas side by side; they differ in {names}. Water makes up the rest."
    return sheet.finish("ranks", TITLE, told)
