"""An answer as one page with its pictures: for a screen, a phone, and A4."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render import page
from optiform.views.results.answer_blocks import answer_blocks

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer


def answer_page(answer: Answer, *, everything: bool = False) -> str:
    """Return an answer as a page that needs nothing from outside; printed from a browser it is the A4 sheet.

    Parameters
    ----------
    answer : Answer
    everything : bool
        Whether every formula is told in full.
    """
    from optiform.views.pictures.gallery import Gallery

    blocks = answer_blocks(answer, everything=everything, gallery=Gallery.of(answer))
    return page.render(blocks, answer.title or answer.question)
