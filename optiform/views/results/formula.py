"""Tells one formula in full: weighing table, figures, limits, pH, lots, label."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from optiform.answers.describe.drawn_lots import LotsDrawn
from optiform.answers.model.answer import Answer, Figure, Formula
from optiform.bounds import PH_DECIMALS, window_text
from optiform.tolerances import TOLERANCE
from optiform.views.results.limits import limits, roles
from optiform.views.results.weighing import grams_of, weighable_heading, weighable_notes
from optiform.views.words import sentences
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Field,
    Heading,
    Paragraph,
    Tone,
    bullets,
    joined,
    tabulated,
)
from optiform.views.words.names import measure_name
from optiform.views.words.numbers import (
    NOTHING,
    figure_text,
    fixed,
    percent,
    roughly,
    short,
    span,
    unit_of,
)
from optiform.views.words.sheet_words import one_percent_line

ON_THE_SHEET = (
    "Its sheet tells what was left out or merged, where a lot may change it, and what else a label carries."
)
OVER_LOTS = "Over the suppliers' lots"
HOW_DRAWN = (
    "Each part with a specification range is drawn from a triangular distribution that peaks at its typical "
    "percentage, independent of the others. Least and most are exact over all lots."
)
FIGURES = (
    Field("measure", lambda figure: measure_name(figure.measure), head=True),
    Field(
        "value", lambda figure: figure_text(figure.value, figure.low, figure.high, figure.digits), "decimal"
    ),
    Field("unit", lambda figure: figure.unit),
    Field(
        "wanted", lambda figure: window_text(figure.at_least, figure.at_most, max(PH_DECIMALS, figure.digits))
    ),
    Field("origin", lambda figure: str(figure.trust)),
)
IN_THE_LINES = ("cost", "ingredients")
"""Measures whose parts stand in the table of materials already, or are one each."""
TOLD = 1e-4
"""A part smaller than this beside the largest is not told by name."""


def headline(answer: Answer, formula: Formula) -> list[Block]:
    """Return the heading of a formula with its cost, its structure, soft wishes and other grades."""
    alone = {"evaluate": "The formula", "check": "The formula", "reformulate": "The new formula"}
    name = alone.get(answer.question, f"Formula {formula.rank}")
    blocks: list[Block] = [Heading(f"{name}: {sentences.contents(formula)}")]
    built = sentences.structure(formula)
    if built:
        blocks.append(Paragraph(built))
    if formula.preferences:
        blocks.append(Bullets(sentences.preferences(formula, answer.aim, answer.aim_unit)))
    if formula.also:
        blocks.append(Paragraph(sentences.other_grades(formula), "quiet"))
    return blocks


def weigh(answer: Answer, formula: Formula) -> list[Block]:
    """Return the table of materials in working order with costs, and the hazards."""
    weighed = formula.weighable
    grams = {} if weighed is None else grams_of(weighed)
    fields = [
        Field("phase", lambda line: line.phase or NOTHING, once=True),
        Field("% w/w", sentences.amount, "decimal"),
        Field("material", lambda line: line.name, head=True),
        Field("function", lambda line: line.function),
    ]
    if weighed is not None:
        fields.insert(2, Field("grams", lambda line: grams.get(line.material, NOTHING), "decimal"))
    if any(line.low is not None for line in formula.lines):
        room = Field("may move", lambda line: span(line.low, line.high), "right", 2, note=sentences.MAY_MOVE)
        fields.append(room)
    fields.append(Field(f"{formula.currency}/kg", lambda line: fixed(line.cost, 2), "decimal", 1))
    total = ("", sentences.total(formula), *[""] * (len(fields) - 3), fixed(formula.cost, 2))
    blocks: list[Block] = [Paragraph(weighable_heading(formula, weighed))] if weighed is not None else []
    blocks.append(tabulated(f"Materials of formula {formula.rank}, % w/w", fields, formula.lines, total))
    notes = () if weighed is None else weighable_notes(weighed)
    blocks += [Bullets(notes)] if notes else []
    hazards = sentences.hazards(answer, formula)
    return [*blocks, Paragraph(" ".join(hazards), "caution")] if hazards else blocks


def figures(_: Answer, formula: Formula) -> list[Block]:
    """Return the table of measures: value, bounds asked for, origin of the number."""
    if not formula.figures:
        return []
    table = tabulated(f"Measures of formula {formula.rank}", FIGURES, formula.figures)
    notes = (*_lacking(formula), *_figure_notes(formula.figures), *_predicted(formula.figures))
    blocks: list[Block] = [Heading("What it amounts to", 3), table]
    return [*blocks, Bullets(notes, tone="quiet")] if notes else blocks


def _lacking(formula: Formula) -> tuple[str, ...]:
    """Return the materials without data behind each range or gap, a sentence for each set of materials."""
    names = {line.material: line.name for line in formula.lines}
    sharing: dict[tuple[str, ...], list[str]] = {}
    for figure in formula.figures:
        if figure.lacking:
            sharing.setdefault(figure.lacking, []).append(measure_name(figure.measure))
    return tuple(
        f"{joined(measures)}: without data for {'; '.join(names[one] for one in lacking)}."
        for lacking, measures in sharing.items()
    )


def _figure_notes(figures: Sequence[Figure]) -> tuple[str, ...]:
    """Return the notes on measures; a note that several share stands once."""
    sharing: dict[str, list[str]] = {}
    for figure in figures:
        if figure.note:
            sharing.setdefault(figure.note, []).append(measure_name(figure.measure))
    return tuple(f"{joined(names)}: {note}." for note, names in sharing.items())


def _predicted(figures: Sequence[Figure]) -> tuple[str, ...]:
    """Return the intervals that trials predict for the next reading and for the mean of many."""
    return tuple(
        f"{measure_name(item.measure)}: nine readings in ten of such a wash fall at "
        f"{roughly(item.predicted.low, item.predicted.high)}{unit_of(item.unit)}; the mean of many lies, as surely, at "
        f"{roughly(item.predicted.mean_low, item.predicted.mean_high)}."
        for item in figures
        if item.predicted is not None
    )


def acidity(_: Answer, formula: Formula) -> list[Block]:
    """Return what to expect of the pH and what to keep ready for it."""
    names = {line.material: line.name for line in formula.lines}
    told = () if formula.acidity is None else sentences.acidity(formula.acidity, names)
    return bullets("pH, acid and base", told, level=3)


LOTS = (
    Field("limit", lambda limit: limit.requirement.title, head=True),
    Field("holds in", lambda limit: f"{limit.held:,}", "right"),
    Field("least", lambda limit: fixed(limit.low, 2), "decimal", sheds=2),
    Field("typical", lambda limit: fixed(limit.value, 2), "decimal", sheds=3),
    Field("most", lambda limit: fixed(limit.high, 2), "decimal", sheds=1),
)


def lots_blocks(lots: LotsDrawn | None) -> list[Block]:
    """Return in how many drawn lots the limits hold; empty where no composition varies."""
    if lots is None:
        return []
    if not lots.limits:
        words = "No limit depends on the lot of " + joined(list(lots.materials), "or") + "."
        return [Heading(OVER_LOTS, 3), Paragraph(words)]
    together = (
        f"All limits that depend on the lot hold together in {lots.all_held:,} of {lots.drawn:,} drawn lots "
        f"(seed {lots.seed}) of {joined(list(lots.materials))}."
    )
    tone: Tone = "plain" if lots.all_held == lots.drawn else "caution"
    table = tabulated("Limits over the lots", LOTS, lots.limits)
    return [
        Heading(OVER_LOTS, 3),
        Paragraph(together, tone),
        table,
        *_doses(lots),
        Paragraph(HOW_DRAWN, "quiet"),
    ]


def _doses(lots: LotsDrawn) -> list[Block]:
    told: list[Block] = []
    for dose in lots.doses:
        low, high = percent(dose.low), percent(dose.high)
        needed = low if low == high else f"{low} to {high}"
        words = f"To keep the pH, the drawn lots need {needed} % w/w {dose.material}"
        words += "." if dose.within_use else ", which is outside its use range."
        told.append(Paragraph(words, "plain" if dose.within_use else "caution"))
    return told


def ingredients(_: Answer, formula: Formula) -> list[Block]:
    """Return the ingredient list of the label, and where its order is free."""
    if formula.label is None or not formula.label.entries:
        return []
    told = f"{one_percent_line(formula.label)} {ON_THE_SHEET}"
    return [
        Heading("The ingredient list of its label", 3),
        Paragraph(formula.label.text),
        Paragraph(told, "quiet"),
    ]


def contributions(_: Answer, formula: Formula) -> list[Block]:
    """Return each measure with what every material adds to it; empty where no measure is a sum."""
    shown = [item for item in formula.figures if item.measure not in IN_THE_LINES and _adds_up(item)]
    if not shown:
        return []
    words = "In the unit of each measure; the parts add up to the value, and the cost of each material stands above."
    caption = f"Who brings what to formula {formula.rank}"
    return [Heading("Who brings what", 3), Paragraph(words), tabulated(caption, BROUGHT, shown)]


def _adds_up(figure: Figure) -> bool:
    if figure.value is None or not figure.parts:
        return False
    together = math.fsum(part for _, part in figure.parts)
    return abs(together - figure.value) <= TOLERANCE * max(1.0, abs(figure.value))


def _brought(figure: Figure) -> str:
    """Return what each material adds to a measure, in three figures; tiny parts are only counted."""
    order = sorted(figure.parts, key=lambda part: (-abs(part[1]), part[0]))
    least = TOLD * max((abs(part) for _, part in order), default=0.0)
    told = [f"{name} {short(float(f'{part:.3g}'))}" for name, part in order if abs(part) > least]
    left = sum(0 < abs(part) <= least for _, part in order)
    return "; ".join(told) + (f"; {left} more, next to nothing" if left else "")


BROUGHT = (
    Field("measure", lambda figure: measure_name(figure.measure), head=True),
    Field("value", lambda figure: fixed(figure.value, figure.digits), "decimal"),
    Field("brought by", _brought),
)
PARTS: dict[str, Callable[[Answer, Formula], list[Block]]] = {
    "headline": headline,
    "remarks": lambda _, formula: [Bullets(formula.notes)] if formula.notes else [],
    "weigh": weigh,
    "figures": figures,
    "limits": limits,
    "acidity": acidity,
    "lots": lambda _, formula: lots_blocks(formula.lots),
    "ingredients": ingredients,
    "roles": roles,
    "contributions": contributions,
}
