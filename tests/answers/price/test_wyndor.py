"""Wyndor Glass through the whole engine: a library with user columns gives the textbook's ranging table.

Source: F. S. Hillier and G. J. Lieberman, Introduction to Operations Research, chapters 3, 4 and 7 (sensitivity):
maximise 3 x1 + 5 x2 with x1 <= 4, 2 x2 <= 12, 3 x1 + 2 x2 <= 18. Optimum 36 at (2, 6); shadow prices 0, 1.5, 1;
right-hand sides hold on [2, inf), [6, 18], [12, 24]; profits on [0, 7.5] and [2, inf).
"""

from __future__ import annotations

import math

import pytest

from optiform.answers.design import design
from optiform.answers.price import why
from optiform.brief.models import Aim, Brief, Target
from optiform.library.models import ColumnMeasure
from tests.builders import tiny_library

PLANTS = {"plant 1": (1.0, 0.0, 4.0), "plant 2": (0.0, 2.0, 12.0), "plant 3": (3.0, 2.0, 18.0)}


def glass_works(**fields):
    """Return the works as a brief: what is not door or window is time left idle, which is the water.

    Idle time is bought at 10 per kg, so that a price of 10 - c is a profit of c.
    """
    columns = {name.replace(" ", "_"): (one, two) for name, (one, two, _) in PLANTS.items()}

    def extra(place):
        return {"profit": (3.0, 5.0)[place], **{name: pair[place] for name, pair in columns.items()}}

    idle = {"profit": 0.0, **dict.fromkeys(columns, 0.0)}
    library = tiny_library(
        [
            {"id": "idle", "function": "water", "price": 10.0, "extra": idle},
            {"id": "door", "price": 7.0, "extra": extra(0)},
            {"id": "window", "price": 5.0, "extra": extra(1)},
        ],
        measures=(
            ColumnMeasure(name="profit", column="profit", unit="k$"),
            *(ColumnMeasure(name=name, column=name.replace(" ", "_"), unit="h") for name in PLANTS),
        ),
    )
    limits = {name: Target(at_most=limit) for name, (_, _, limit) in PLANTS.items()}
    return Brief(**{"title": "Wyndor", "library": library, "law": "none", "targets": limits, **fields})


def test_the_optimum_the_shadow_prices_and_their_ranges():
    (formula,) = design(glass_works(aim=Aim(measure="profit", sense="maximise"))).formulas
    amounts = {line.material: line.percent for line in formula.lines}
    assert formula.aim == pytest.approx(36.0, abs=1e-9)
    assert (amounts["door"], amounts["window"]) == pytest.approx((2.0, 6.0), abs=1e-9)
    found = {binding.requirement.measure: binding for binding in formula.binding}
    assert set(found) == {"plant 2", "plant 3"}
    prices = {"plant 2": (1.5, 6.0, 18.0), "plant 3": (1.0, 12.0, 24.0)}
    for plant, (price, low, high) in prices.items():
        binding = found[plant]
        assert binding.marginal_cost == pytest.approx(price, abs=1e-6)
        assert binding.marginal_cost_back == pytest.approx(price, abs=1e-6)
        assert (binding.holds_from, binding.holds_to) == pytest.approx((low, high), abs=1e-4)
        assert not binding.degenerate


@pytest.mark.parametrize(("limit", "binds"), [(2.0001, False), (1.9999, True), (1000.0, False)])
def test_the_first_plant_is_of_no_price_from_two_hours_on(limit, binds):
    brief = glass_works(aim=Aim(measure="profit", sense="maximise"))
    targets = {**brief.targets, "plant 1": Target(at_most=limit)}
    (formula,) = design(brief.model_copy(update={"targets": targets})).formulas
    assert any(binding.requirement.measure == "plant 1" for binding in formula.binding) is binds


def test_the_ranges_of_the_profits_as_ranges_of_prices():
    brief = glass_works()
    door, window = why(brief, "door").why, why(brief, "window").why
    # profit of a door on [0, 7.5]: its price on [2.5, 10]; profit of a window on [2, inf): its price at most 8
    assert 10.0 - door.below.price == pytest.approx(7.5, abs=1e-6)
    assert 10.0 - door.above.price == pytest.approx(0.0, abs=1e-6)
    assert 10.0 - window.above.price == pytest.approx(2.0, abs=1e-6)
    assert window.below is None or not math.isfinite(window.below.price)
    amounts = {line.material: line.percent for line in door.below.lines}
    assert (amounts["door"], amounts["window"]) == pytest.approx((4.0, 3.0), abs=1e-6)
