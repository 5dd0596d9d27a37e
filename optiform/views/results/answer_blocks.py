"""An answer told in blocks, whichever question it answers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.blocks import Block, Bullets, Heading, Paragraph, Tone
from optiform.views.results.change_blocks import reformulation_blocks
from optiform.views.results.conflict_blocks import conflict_blocks
from optiform.views.results.contribution_blocks import contribution_blocks
from optiform.views.results.formula_blocks import comparison_blocks, formula_blocks, setting
from optiform.views.results.full_blocks import role_blocks, why_blocks, wish_blocks
from optiform.views.words import sentences

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer
    from optiform.views.pictures.gallery import Gallery


def answer_blocks(answer: Answer, *, everything: bool = False, gallery: Gallery | None = None) -> list[Block]:
    """Return an answer as blocks: the first formula in full and the others beside it, or all in full.

    Parameters
    ----------
    answer : Answer
    everything : bool
        Whether every formula is told in full.
    gallery : Gallery, optional
        Draws the pictures, for a page.
    """
    if answer.question == "reformulate":
        return reformulation_blocks(answer, gallery)
    blocks: list[Block] = [Heading(answer.title or answer.question, 1), *setting(answer)]
    tone: Tone = (
        "bad" if answer.status == "conflict" else "caution" if answer.status == "stopped" else "plain"
    )
    blocks += [Paragraph(line, tone) for line in sentences.standing(answer)]
    if answer.conflict is not None:
        blocks += conflict_blocks(
            answer.conflict, sentences.cost_unit(answer), in_full=answer.question != "check"
        )
        if gallery is not None:
            blocks += gallery.conflict(answer.conflict)
    if answer.question == "evaluate":
        blocks += _broken(answer)
    if answer.why is not None:
        blocks += why_blocks(answer, answer.why)
    full = answer.formulas if everything else answer.formulas[:1]
    for formula in full:
        heading = sentences.evaluated(formula) if answer.question in ("evaluate", "check") else ""
        blocks += formula_blocks(answer, formula, heading=heading, gallery=gallery)
        blocks += role_blocks(answer, formula)
        if answer.question == "evaluate":
            blocks += contribution_blocks(formula)
    blocks += comparison_blocks(answer.formulas, gallery)
    blocks += wish_blocks(answer.wishes, answer.aim_unit)
    if answer.notes:
        blocks += [Heading("Notes"), Bullets(answer.notes)]
    blocks += [Heading("Cautions"), Bullets(sentences.cautions(answer), tone="caution")]
    return blocks


def _broken(answer: Answer) -> list[Block]:
    broken = [item for formula in answer.formulas for item in formula.breaks]
    return [Bullets(tuple(sentences.broken(item) for item in broken), tone="bad")] if broken else []
