"""The first formula of every shipped problem, typed back from the screen, holds what it was made to hold.

The oracle is `evaluate` on the printed figures alone, and the printed figures themselves: they add up to 100.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

import pytest

from optiform.answers.evaluate import evaluate
from optiform.library.formulas import TypedFormula
from optiform.program import breaks, build, complete
from optiform.views.screens import answer_blocks
from optiform.views.words.blocks import Table
from tests.asked import designed, problem
from tests.problems.test_problems import FOLDERS, expected, name

if TYPE_CHECKING:
    from pathlib import Path

SOLVED = [folder for folder in FOLDERS if expected(folder)["status"] == "solved"]


def typed(answer) -> TypedFormula:
    """Return the first formula as somebody would type it off the screen: the figures of its table."""
    ids = {line.name: line.material for line in answer.formulas[0].lines}
    table = next(block for block in answer_blocks(answer) if isinstance(block, Table))
    titles = [column.title for column in table.columns]
    amount, material = titles.index("% w/w"), titles.index("material")
    figures = [(ids[row[material]], Decimal(row[amount])) for row in table.rows]
    lines = tuple((key, float(figure)) for key, figure in figures)
    return TypedFormula(name="typed back", lines=lines, total=float(sum(figure for _, figure in figures)))


@pytest.mark.parametrize("folder", SOLVED, ids=name)
def test_a_formula_typed_off_the_screen_breaks_nothing(folder: Path) -> None:
    brief, answer = problem(folder.name), designed(folder.name)
    formula = typed(answer)
    assert formula.total == 100.0
    found = evaluate(formula, brief.library, brief)
    assert [item.requirement.title for item in found.formulas[0].breaks] == []
    exact = {line.material: line.percent for line in answer.formulas[0].lines}
    assert all(abs(percent - exact[key]) < 0.03 for key, percent in formula.lines if key != "water")


@pytest.mark.parametrize("folder", SOLVED, ids=name)
def test_every_printed_formula_adds_up_and_is_near(folder: Path) -> None:
    brief, answer = problem(folder.name), designed(folder.name)
    for formula in answer.formulas:
        figures = [Decimal(repr(line.printed)) for line in formula.lines]
        assert sum(figures) == 100
        assert all(line.places <= 4 for line in formula.lines)
        if not any(target == "pH" for target in brief.targets):
            amounts = brief.library.arrays.amounts((line.material, line.printed) for line in formula.lines)
            program = build(brief)
            assert breaks(program, complete(program, amounts)) == ()
