"""The first two lines of every first screen: what it is about, what the answer is, on what it stands."""

from __future__ import annotations

from optiform.answers.model.answer import Answer, Formula
from optiform.measures.learned import LOGARITHM
from optiform.views.words.blocks import Block, Heading, Paragraph
from optiform.views.words.numbers import INDEX, figure, fixed

PRICES = {"invented": "prices invented", "estimate": "prices estimated", "memory": "prices from memory"}


def masthead(answer: Answer, verdict: str) -> list[Block]:
    """Return the title with the answer at the other end of its line, and the law and library that it stands on."""
    stands = standing_on(answer)
    blocks: list[Block] = [Heading(answer.title or answer.question, 1, aside=verdict)]
    return [*blocks, Paragraph(stands, "quiet")] if stands else blocks


def standing_on(answer: Answer) -> str:
    """Return "EU, rinse-off, face. Quayside wash-house, starter library; prices invented."."""
    brief, told = answer.brief, []
    if brief is not None:
        users = [f"users {' and '.join(brief.users)}"] if brief.users else []
        scene = [brief.law, brief.product, brief.area, *users]
        told.append("no legal limits" if brief.law == "none" else ", ".join(scene))
    if answer.library:
        told.append("; ".join([answer.library, *_prices(answer)]))
    return "".join(f"{part[:1].upper()}{part[1:]}. " for part in told).strip()


def _prices(answer: Answer) -> list[str]:
    for formula in answer.formulas[:1]:
        trust = next((str(item.trust) for item in formula.figures if item.measure == "cost"), "")
        return [PRICES[trust]] if trust in PRICES else []
    return []


def aim_of(answer: Answer, formula: Formula) -> str:
    """Return what a formula comes to: "1.69 EUR/kg", "mildness 82 points"."""
    if answer.aim == "cost":
        return cost_of(formula)
    unit = answer.aim_unit.removeprefix(LOGARITHM)
    return f"{answer.aim} {aim_text(formula.aim, answer.aim_unit)} {unit}".rstrip()


def cost_of(formula: Formula) -> str:
    """Return "1.69 EUR/kg"."""
    return f"{fixed(formula.cost, 2)} {formula.currency}/kg"


def aim_text(value: float | None, unit: str) -> str:
    """Return a value of the aim as a purse or a meter shows it."""
    if "/kg" in unit:
        return fixed(value, 2)
    if unit.startswith(LOGARITHM):
        return figure(None if value is None else 10.0**value, 0)
    return fixed(value, 0) if unit == INDEX else figure(value, 3)
