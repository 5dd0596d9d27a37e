"""Who brings what: the parts that are printed add up to the value that is printed."""

import math

import pytest

from optiform.answers.evaluate import evaluate
from optiform.library.formulas import TypedFormula
from optiform.views.results.formula import contributions
from optiform.views.screens import answer_blocks
from optiform.views.words.blocks import Table
from optiform.views.words.names import measure_name
from tests.answers.rework.today import STARTER_TODAY, starter


@pytest.fixture(scope="module")
def answer():
    return evaluate(TypedFormula("today", STARTER_TODAY, 100.0), starter())


def table_of(blocks):
    return next(
        block for block in blocks if isinstance(block, Table) and block.caption.startswith("Who brings what")
    )


def test_the_printed_parts_add_up_to_the_printed_value(answer):
    formula = answer.formulas[0]
    table = table_of(contributions(None, formula))
    told = {row[0]: row[2] for row in table.rows}
    assert {"active matter", "mildness", "irritation load", "electrolyte", "natural origin"} <= set(told)
    values = {measure_name(figure.measure): figure.value for figure in formula.figures}
    for measure, words in told.items():
        value = values[measure]
        parts = [float(word.rpartition(" ")[2]) for word in words.split("; ") if not word.endswith("nothing")]
        assert math.fsum(parts) == pytest.approx(value, rel=5e-3 * len(parts))
        assert parts == sorted(parts, reverse=True)


def test_the_active_matter_by_hand(answer):
    """9 % of 52 %, 7 % of 38 % and 4 % of 70 %."""
    table = table_of(contributions(answer, answer.formulas[0]))
    (words,) = (row[2] for row in table.rows if row[0] == "active matter")
    assert words == "decyl-glucoside 4.68; sodium-laureth-sulfate-70 2.8; cocamidopropyl-betaine-38 2.66"


def test_an_evaluation_tells_the_parts_and_measures_without_parts_are_left_out(answer):
    told = {row[0] for row in table_of(answer_blocks(answer)).rows}
    assert not {"pH", "cost", "ingredients"} & told
