"""One formula told in blocks, and several side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

from optiform.library.models import Phase
from optiform.views.render.blocks import Block, Bullets, Column, Heading, Paragraph, Table, joined
from optiform.views.render.numbers import NOTHING, figure_text, fixed, span, wanted
from optiform.views.results.lots_blocks import lots_blocks
from optiform.views.results.weighable import grams_of, weighable_heading, weighable_notes
from optiform.views.words import sentences
from optiform.views.words.sheet_words import one_percent_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.model.answer import Answer, Binding, Figure, Formula, Line
    from optiform.views.pictures.gallery import Gallery

SIDE_BY_SIDE = 5
"""So many formulas stand beside each other in one table."""
ON_THE_SHEET = (
    "Its sheet tells what was left out or merged, where a lot may change it, and what else a label carries."
)


def setting(answer: Answer) -> list[Block]:
    """Return which library and which law an answer stands on."""
    brief = answer.brief
    words = [f"Library: {answer.library}."] if answer.library else []
    if brief is not None:
        law = "no legal limits" if brief.law == "none" else f"{brief.law} limits"
        users = f", for users {', '.join(brief.users)}" if brief.users else ""
        words.append(f"Law: {law}, {brief.product}, {brief.area}{users}.")
    return [Paragraph(" ".join(words), "quiet")] if words else []


def formula_blocks(
    answer: Answer, formula: Formula, *, heading: str = "", gallery: Gallery | None = None
) -> list[Block]:
    """Return everything there is to say of one formula, cautions apart; a page also hangs its pictures."""
    title = heading or sentences.headline(formula)
    blocks: list[Block] = [Heading(title)]
    built = sentences.structure(formula)
    if built:
        blocks.append(Paragraph(built))
    if formula.preferences:
        blocks.append(Bullets(sentences.preferences(formula, answer.aim, answer.aim_unit)))
    if formula.also:
        blocks.append(Paragraph(sentences.other_grades(formula), "quiet"))
    if gallery is not None:
        blocks += gallery.facts(formula)
    if formula.notes:
        blocks.append(Bullets(formula.notes))
    blocks += lines_blocks(answer, formula)
    if gallery is not None:
        blocks += gallery.formula(formula)
    blocks += figure_blocks(formula)
    blocks += binding_blocks(formula.binding)
    if formula.acidity is not None:
        names = {line.material: line.name for line in formula.lines}
        blocks += [Heading("pH, acid and base", 3), Bullets(sentences.acidity(formula.acidity, names))]
    blocks += lots_blocks(formula.lots)
    blocks += ingredient_blocks(formula)
    return blocks


def lines_blocks(answer: Answer, formula: Formula) -> list[Block]:
    """Return the table of materials in working order, what it costs, and what injures."""
    grams = grams_of(formula)
    moves = any(line.low is not None for line in formula.lines)
    columns = [Column("phase"), Column("% w/w", "decimal"), Column("material", head=True), Column("function")]
    if grams:
        columns.insert(2, Column("grams", "decimal"))
    if moves:
        columns.append(Column("may move", "right", sheds=2, note=sentences.MAY_MOVE))
    columns.append(Column(f"{formula.currency}/kg", "decimal", sheds=1))
    rows = []
    before: str | None = ""
    for line in formula.lines:
        cells = [
            NOTHING if line.phase is None else line.phase if line.phase != before else "",
            sentences.amount(line),
        ]
        before = line.phase
        if grams:
            cells.append(grams.get(line.material, NOTHING))
        cells += [line.name, line.function]
        if moves:
            cells.append(span(line.low, line.high))
        rows.append((*cells, fixed(line.cost, 2)))
    width = len(columns)
    total = ["", sentences.total(formula), *[""] * (width - 3), fixed(formula.cost, 2)]
    blocks: list[Block] = []
    if grams:
        blocks.append(Paragraph(weighable_heading(formula)))
    blocks.append(
        Table(f"Materials of formula {formula.rank}, % w/w", tuple(columns), tuple(rows), tuple(total))
    )
    notes = weighable_notes(formula)
    if notes:
        blocks.append(Bullets(notes))
    hazards = sentences.hazards(answer, formula)
    if hazards:
        blocks.append(Paragraph(" ".join(hazards), "caution"))
    return blocks


def figure_blocks(formula: Formula) -> list[Block]:
    """Return the table of measures: value, what was wanted, where the number comes from."""
    if not formula.figures:
        return []
    columns = (
        Column("measure", head=True),
        Column("value", "decimal"),
        Column("unit"),
        Column("wanted"),
        Column("origin"),
    )
    rows = tuple(
        (
            figure.measure,
            figure_text(figure.value, figure.low, figure.high, figure.digits),
            figure.unit,
            wanted(figure.at_least, figure.at_most),
            str(figure.trust),
        )
        for figure in formula.figures
    )
    blocks: list[Block] = [
        Heading("What it amounts to", 3),
        Table(f"Measures of formula {formula.rank}", columns, rows),
    ]
    notes = (*_lacking(formula), *_figure_notes(formula.figures))
    if notes:
        blocks.append(Bullets(notes, tone="quiet"))
    return blocks


def _lacking(formula: Formula) -> tuple[str, ...]:
    """Name the materials without data behind each range or gap, one sentence for what lacks the same."""
    names = {line.material: line.name for line in formula.lines}
    sharing: dict[tuple[str, ...], list[str]] = {}
    for figure in formula.figures:
        if figure.lacking:
            sharing.setdefault(figure.lacking, []).append(figure.measure)
    return tuple(
        f"{joined(measures)}: without data for {'; '.join(names[one] for one in lacking)}."
        for lacking, measures in sharing.items()
    )


def _figure_notes(figures: Sequence[Figure]) -> tuple[str, ...]:
    """Return the notes on measures, one that several share written once."""
    sharing: dict[str, list[str]] = {}
    for figure in figures:
        if figure.note:
            sharing.setdefault(figure.note, []).append(figure.measure)
    return tuple(f"{joined(names)}: {note}." for note, names in sharing.items())


def binding_blocks(binding: Sequence[Binding]) -> list[Block]:
    """Return what holds a formula where it is and what each step costs; what has no price comes last."""
    if not binding:
        return []
    told = [(sentences.asked(limit.requirement), sentences.priced(limit)) for limit in binding]
    priced = tuple(f"{title}: {price}." for title, price in told if price)
    rest = tuple(title for title, price in told if not price)
    blocks: list[Block] = [Heading("What holds it there, and what each step costs", 3)]
    if priced:
        blocks.append(Bullets(priced))
    if any(
        limit.degenerate and None not in (limit.marginal_cost, limit.marginal_cost_back) for limit in binding
    ):
        blocks.append(Paragraph(sentences.DEGENERATE, "quiet"))
    if rest:
        blocks.append(Paragraph(f"Also at its limit, without a price: {'; '.join(rest)}.", "quiet"))
    return blocks


def ingredient_blocks(formula: Formula) -> list[Block]:
    """Return the ingredients as the formula's label lists them, and where their order is free."""
    if formula.label is None or not formula.label.entries:
        return []
    told = f"{one_percent_line(formula.label)} {ON_THE_SHEET}"
    return [
        Heading("The ingredient list of its label", 3),
        Paragraph(formula.label.text),
        Paragraph(told, "quiet"),
    ]


def comparison_blocks(formulas: Sequence[Formula], gallery: Gallery | None = None) -> list[Block]:
    """Return the formulas side by side: how each is built differently, then only what differs."""
    if len(formulas) < 2:
        return []
    blocks: list[Block] = [Heading("The others beside the first")]
    blocks.append(Bullets(tuple(_other(formulas[0], formula) for formula in formulas[1:])))
    if gallery is not None:
        blocks += gallery.ranks(formulas)
    for start in range(0, len(formulas), SIDE_BY_SIDE):
        blocks += _beside(formulas, formulas[start : start + SIDE_BY_SIDE])
    same = _same_in_all(formulas)
    if same:
        blocks.append(Paragraph(f"The same in all, % w/w: {'; '.join(same)}.", "quiet"))
    return blocks


def _other(first: Formula, formula: Formula) -> str:
    return " ".join((sentences.against(first, formula), *formula.notes))


def _beside(formulas: Sequence[Formula], shown: Sequence[Formula]) -> list[Block]:
    """Return some of the formulas side by side, their figures and their materials."""
    ranks = tuple(Column(str(formula.rank), "decimal") for formula in shown)
    figures = [(f"cost, {formulas[0].currency}/kg", *(fixed(formula.cost, 2) for formula in shown))]
    figures += [row for row in _figure_rows(formulas, shown) if len(set(row[1:])) > 1 or len(shown) == 1]
    materials = [
        (name, *(_amount(formula, material) for formula in shown))
        for material, name in _names(formulas).items()
        if len({_amount(formula, material) for formula in formulas}) > 1
    ]
    by_figure, by_material = Column("figures that differ", head=True), Column("% w/w that differ", head=True)
    which = "by rank" if len(shown) == len(formulas) else f"ranks {shown[0].rank} to {shown[-1].rank}"
    return [
        Table(f"Figures that differ, {which}", (by_figure, *ranks), tuple(figures)),
        Table(f"Materials that differ, % w/w, {which}", (by_material, *ranks), tuple(materials)),
    ]


def differing(formulas: Sequence[Formula]) -> list[tuple[str, tuple[float | None, ...]]]:
    """Return the materials, water apart, whose amounts differ as they are shown: name, % w/w in each formula."""
    water = {line.material for formula in formulas for line in formula.lines if line.function == "water"}
    amounts = [{line.material: line.percent for line in formula.lines} for formula in formulas]
    return [
        (name, tuple(held.get(material) for held in amounts))
        for material, name in _names(formulas).items()
        if material not in water and len({_amount(formula, material) for formula in formulas}) > 1
    ]


def _figure_rows(formulas: Sequence[Formula], shown: Sequence[Formula]) -> list[tuple[str, ...]]:
    """Return one row per measure of any formula, cost apart."""
    measured = {
        figure.measure: figure for formula in reversed(formulas) for figure in reversed(formula.figures)
    }
    order = dict.fromkeys(figure.measure for formula in formulas for figure in formula.figures)
    rows = []
    for measure in order:
        if measure == "cost":
            continue
        found = [next((f for f in formula.figures if f.measure == measure), None) for formula in shown]
        label = ", ".join(part for part in (measure, measured[measure].unit) if part)
        rows.append(
            (label, *(NOTHING if f is None else figure_text(f.value, f.low, f.high, f.digits) for f in found))
        )
    return rows


def _names(formulas: Sequence[Formula]) -> dict[str, str]:
    """Return the names of all materials by id, in working order."""
    lines = {line.material: line for formula in formulas for line in formula.lines}
    phases = (*get_args(Phase), None)
    return {
        line.material: line.name for line in sorted(lines.values(), key=lambda line: _place(phases, line))
    }


def _place(phases: tuple[str | None, ...], line: Line) -> int:
    return phases.index(line.phase) if line.phase in phases else len(phases)


def _amount(formula: Formula, material: str) -> str:
    return next((sentences.amount(line) for line in formula.lines if line.material == material), NOTHING)


def _same_in_all(formulas: Sequence[Formula]) -> list[str]:
    return [
        f"{line.name} {sentences.amount(line)}"
        for line in formulas[0].lines
        if len({_amount(formula, line.material) for formula in formulas}) == 1
    ]
