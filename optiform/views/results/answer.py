"""Tells an answer about formulas: library and law, proof, collisions, notes and cautions."""

from __future__ import annotations

from collections.abc import Callable

from optiform.answers.model.answer import Answer
from optiform.brief.models import Brief
from optiform.library.typed.stated_keys import BETWEEN, STATED
from optiform.views.results import comparison, conflict, reformulation
from optiform.views.results.why import why
from optiform.views.results.wishes import wishes
from optiform.views.words import sentences
from optiform.views.words.blocks import Block, Bullets, Cell, Heading, Paragraph, Rows, Tone, bullets


def setting(answer: Answer) -> list[Block]:
    """Return the library and the law of an answer."""
    brief = answer.brief
    words = [f"Library: {answer.library}."] if answer.library else []
    if brief is not None:
        law = "no legal limits" if brief.law == "none" else f"{brief.law} limits"
        users = f", for users {', '.join(brief.users)}" if brief.users else ""
        words.append(f"Law: {law}, {brief.product}, {brief.area}{users}.")
    return [Paragraph(" ".join(words), "quiet")] if words else []


def standing(answer: Answer) -> list[Block]:
    """Return the aim and how far it is proven; the tone warns of a conflict or a stopped search."""
    tones: dict[str, Tone] = {"conflict": "bad", "stopped": "caution"}
    tone = "plain" if answer.question == "reformulate" else tones.get(answer.status, "plain")
    return [Paragraph(line, tone) for line in sentences.standing(answer)]


def breaks(answer: Answer) -> list[Block]:
    """Return what the formulas break."""
    broken = tuple(sentences.broken(item) for formula in answer.formulas for item in formula.breaks)
    return [Bullets(broken, tone="bad")] if broken else []


def rows(answer: Answer) -> Rows:
    """Return the lines of every formula, one per row; of a conflict, its requirements and ways out."""
    if answer.conflict is not None:
        return conflict.rows(answer.conflict)
    told = ("material", "name", "function", "phase", "percent", "low", "high", "cost")
    stated = stands_on(answer.brief)
    return ("rank", *told, "currency", *stated), [
        (formula.rank, *(getattr(line, name) for name in told), formula.currency, *stated.values())
        for formula in answer.formulas
        for line in formula.lines
    ]


def stands_on(brief: Brief | None) -> dict[str, Cell]:
    """Return, by column, what a formula read from the table is checked against; empty where nothing is stated."""
    if brief is None:
        return {}
    pH = brief.targets.get("pH")
    cells: tuple[Cell, ...] = (
        brief.law,
        brief.product,
        brief.area,
        BETWEEN.join(brief.users),
        None if brief.on is None else brief.on.isoformat(),
        *((None, None, None) if pH is None else (pH.at_least, pH.at_most, pH.set)),
        BETWEEN.join(guard.rule for guard in brief.waive),
    )
    return dict(zip(STATED, cells, strict=True))


PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "title": lambda answer: [Heading(answer.title or answer.question, 1)],
    "setting": setting,
    "standing": standing,
    "breaks": breaks,
    **conflict.PARTS,
    **reformulation.PARTS,
    "why": lambda answer: [] if answer.why is None else why(answer, answer.why),
    "others": comparison.others,
    "side by side": comparison.side_by_side,
    "wishes": lambda answer: wishes(answer.wishes, answer.aim_unit),
    "notes": lambda answer: bullets("Notes", answer.notes),
    "cautions": lambda answer: bullets("Cautions", sentences.cautions(answer), "caution"),
}
