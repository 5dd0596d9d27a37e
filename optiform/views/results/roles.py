"""How far each amount of a formula may go, and which materials it can do without."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words.blocks import Block, Bullets, Field, Heading, Paragraph, joined, tabulated
from optiform.views.words.numbers import digits_of, fixed, percent

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer, Formula, Line

ROLES = {
    "essential": "Essential: without any one of these no formula stays within the allowance",
    "interchangeable": "Interchangeable: another of the same function can take its place within the allowance",
    "optional": "Optional: a formula within the allowance does without it and puts nothing in its place",
}
NOT_ALL = "These ranges do not hold all at once: using one of them up uses up the allowance."
RANGES = (
    Field("material", lambda line: line.name, head=True),
    Field("lowest", lambda line: percent(line.low), "decimal"),
    Field("% w/w", lambda line: percent(line.percent), "decimal"),
    Field("highest", lambda line: percent(line.high), "decimal"),
)


def roles(answer: Answer, formula: Formula) -> list[Block]:
    """Return the room of each amount, which materials can be spared, and what takes their place.

    The ranges stand in a table of their own: beside the grams there is no room for them.
    """
    unit = answer.aim_unit
    held = answer.brief.library.materials if answer.brief is not None else ()
    names = {material.id: material.name for material in held}
    told: list[Block] = []
    for role, words in ROLES.items():
        lines = tuple(_role(line, names, unit) for line in formula.lines if line.role == role)
        told += [Paragraph(f"{words}:"), Bullets(lines)] if lines else []
    if not told:
        return []
    allowance = formula.allowance
    allowed = "" if allowance is None else f" The allowance is {fixed(allowance, digits_of(unit))} {unit}."
    return [
        Heading("Room to move", 3),
        tabulated("How far each amount may go, % w/w", RANGES, formula.lines),
        Paragraph(NOT_ALL + allowed),
        Heading("What it can do without", 3),
        *told,
    ]


def _role(line: Line, names: dict[str, str], unit: str) -> str:
    if line.without is None:
        return line.name if line.function == "water" else f"{line.name}: no formula at all without it"
    instead = joined([names.get(word, word) for word in line.instead])
    place = f", with {instead} instead," if instead else ""
    return f"{line.name}: the best formula without it{place} comes to {fixed(line.without, digits_of(unit, 2))} {unit}"
