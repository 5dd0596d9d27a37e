"""Compares several formulas side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from optiform.answers.model.answer import Answer, Formula
from optiform.library.models import Phase
from optiform.views.words import sentences
from optiform.views.words.blocks import Block, Column, Paragraph, Table, bullets
from optiform.views.words.names import measure_name
from optiform.views.words.numbers import NOTHING, figure_text, fixed

SIDE_BY_SIDE = 5
"""So many formulas stand beside each other in one table."""


def others(answer: Answer) -> list[Block]:
    """Return how each other formula is built differently from the first."""
    told = (
        " ".join((sentences.against(answer.formulas[0], formula), *formula.notes))
        for formula in answer.formulas[1:]
    )
    return bullets("The others beside the first", told)


def side_by_side(answer: Answer) -> list[Block]:
    """Return the figures and amounts that differ between formulas, and those that are the same in all."""
    formulas = answer.formulas
    if len(formulas) < 2:
        return []
    blocks: list[Block] = []
    for start in range(0, len(formulas), SIDE_BY_SIDE):
        blocks += _beside(formulas, formulas[start : start + SIDE_BY_SIDE])
    same = _same_in_all(formulas)
    return [*blocks, Paragraph(f"The same in all, % w/w: {'; '.join(same)}.", "quiet")] if same else blocks


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
        label = ", ".join(part for part in (measure_name(measure), measured[measure].unit) if part)
        rows.append(
            (label, *(NOTHING if f is None else figure_text(f.value, f.low, f.high, f.digits) for f in found))
        )
    return rows


def _names(formulas: Sequence[Formula]) -> dict[str, str]:
    """Return the names of all materials by id, in working order."""
    lines = {line.material: line for formula in formulas for line in formula.lines}
    phases = (*get_args(Phase), None)
    places = {phase: place for place, phase in enumerate(phases)}
    ordered = sorted(lines.values(), key=lambda line: places.get(line.phase, len(phases)))
    return {line.material: line.name for line in ordered}


def _amount(formula: Formula, material: str) -> str:
    return next((sentences.amount(line) for line in formula.lines if line.material == material), NOTHING)


def _same_in_all(formulas: Sequence[Formula]) -> list[str]:
    return [
        f"{line.name} {sentences.amount(line)}"
        for line in formulas[0].lines
        if len({_amount(formula, line.material) for formula in formulas}) == 1
    ]
