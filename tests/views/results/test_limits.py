"""The table of limits and prices, row by row: prices by hand, from the samples."""

import math
from dataclasses import replace

import pytest

from optiform.answers.model.answer import Binding
from optiform.views.results.limits import limits
from optiform.views.words.blocks import Table
from tests.views import samples

ACTIVE = samples.BINDING[0]


def told(binding):
    """Return the row of one limit: asked, now, a step, tighter, looser, holds; None where it has no price."""
    formula = replace(samples.FIRST, binding=(binding,))
    tables = [block for block in limits(samples.DESIGN, formula) if isinstance(block, Table)]
    return (
        tuple(cell.replace("\N{NO-BREAK SPACE}", " ") for cell in tables[0].rows[0][1:]) if tables else None
    )


@pytest.mark.parametrize(
    ("binding", "row"),
    [
        (ACTIVE, ("at least 11 %", "11 %", "0.1 %", "0.02", "0.02", "10.2 to 11.7 %")),
        (samples.BINDING[1], ("at least 75", "75", "1 point", "0.06", "<0.01", "75 to 78")),
        (samples.BINDING[2], ("at most 5.2", "5.2", "0.1", "0.02", "-", "4.92 to 5.2")),
        (samples.BINDING[3], ("at least 4", "4", "0.1 g per g", "<0.01", "<0.01", "1 or more")),
        (samples.BINDING[4], ("at most 2", "2", "1", "0.31", "0.04", "-")),
    ],
)
def test_a_limit_is_told_by_its_step_in_money_and_by_how_far_that_holds(binding, row):
    """0.172 EUR/kg a percent is 0.02 for the tenth that the price holds for; ends are rounded into the range."""
    assert told(binding) == row


@pytest.mark.parametrize(
    ("changes", "tighter", "looser"),
    [
        ({"marginal_cost_back": 0.0, "degenerate": True}, "0.02", "0"),
        ({"marginal_cost": None, "marginal_cost_back": 0.2}, "no way", "0.02"),
        ({"marginal_cost": -0.1, "marginal_cost_back": None}, "-0.01", "-"),
        ({"holds_to": math.inf, "marginal_cost_back": None}, "0.17", "-"),
    ],
)
def test_each_side_has_its_own_price(changes, tighter, looser):
    assert told(replace(ACTIVE, **changes))[3:5] == (tighter, looser)


@pytest.mark.parametrize("change", [0.0, 1e-12, -1e-12])
def test_solver_dust_is_no_price(change):
    assert told(replace(ACTIVE, marginal_cost=change, marginal_cost_back=change)) is None


def test_a_choice_without_a_price_has_no_row():
    assert told(Binding(samples.NO_SULFATE, None, None, "EUR/kg per unit", None, None)) is None
