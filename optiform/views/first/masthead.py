"""Makes the first two lines of every first screen: title and verdict, law and library."""

from __future__ import annotations

from optiform.answers.model.answer import Answer, Formula
from optiform.measures.learned import LOGARITHM
from optiform.views.words.blocks import Block, Heading, Paragraph
from optiform.views.words.numbers import INDEX, figure, fixed

PRICES = {"invented": "prices invented", "estimate": "prices estimated", "memory": "prices from memory"}


def masthead(answer: Answer, verdict: str) -> list[Block]:
    """Return the title with the verdict beside it, and below it the law and the library."""
    stands = standing_on(answer)
    blocks: list[Block] = [Heading(answer.title or answer.question, 1, aside=verdict)]
    return [*blocks, Paragraph(stands, "quiet")] if stands else blocks


def standing_on(answer: Answer) -> str:
    """Return law and library: "EU, rinse-off, face. Quayside wash-house, starter library; prices invented."."""
    brief, told = answer.brief, []
    if brief is not None:
        users = [f"users {' and '.join(brief.users)}"] if brief.users else []
        scene = [brief.law, brief.product, brief.area, *users]
        told.append("no legal limits" if brief.law == "none" else ", ".join(scene))
    if answer.library:
        figures = (item for formula in answer.formulas[:1] for item in formula.figures)
        trust = next((str(item.trust) for item in figures if item.measure == "cost"), "")
        told.append("; ".join([answer.library, *([PRICES[trust]] if trust in PRICES else [])]))
    return "".join(f"{part[:1].upper()}{part[1:]}. " for part in told).strip()


def aim_of(answer: Answer, formula: Formula) -> str:
    """Return the aim of a formula with its value: "1.69 EUR/kg", "mildness 82 points"."""
    if answer.aim == "cost":
        return cost_of(formula)
    unit = answer.aim_unit.removeprefix(LOGARITHM)
    return f"{answer.aim} {aim_text(formula.aim, answer.aim_unit)} {unit}".rstrip()


def cost_of(formula: Formula) -> str:
    """Return the cost of a formula: "1.69 EUR/kg"."""
    return f"{fixed(formula.cost, 2)} {formula.currency}/kg"


def aim_text(value: float | None, unit: str) -> str:
    """Return a value of the aim in the digits of its unit: cents for money, none for an index."""
    if "/kg" in unit:
        return fixed(value, 2)
    if unit.startswith(LOGARITHM):
        return figure(None if value is None else 10.0**value, 0)
    return fixed(value, 0) if unit == INDEX else figure(value, 3)
