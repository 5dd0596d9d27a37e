"""Grams on a balance: whole steps, adding up to the batch, too light ones named."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.library import load_library
from optiform.sheets.record.batch import weigh
from tests.builders import tiny_library

LIBRARY = tiny_library([{"id": name} for name in "abcde"])


def lines(*percents):
    names = "abcde"[: len(percents)]
    return [("water", 100.0 - sum(percents)), *zip(names, percents, strict=True)]


@settings(max_examples=200, deadline=None)
@given(
    percents=st.lists(st.floats(0.001, 19.0), min_size=1, max_size=5),
    batch_g=st.sampled_from([50.0, 250.0, 1000.0, 2000.0, 20000.0]),
    balance=st.sampled_from([0.001, 0.01, 0.1, 1.0]),
)
def test_every_amount_is_a_whole_step_and_all_add_up_to_the_batch(percents, batch_g, balance):
    batch = weigh(lines(*percents), LIBRARY, batch_g, balance)
    steps = [Decimal(repr(line.grams)) / Decimal(repr(balance)) for line in batch.lines]
    assert all(step == int(step) for step in steps)
    assert sum(Decimal(repr(line.grams)) for line in batch.lines) == Decimal(repr(batch_g))
    assert batch.total_g == batch_g
    for line in batch.lines:
        if line.material != "water":
            assert abs(line.grams - line.percent * batch_g / 100) <= balance / 2 * (1 + 1e-9)


def test_the_least_amount_is_half_a_step_over_the_error():
    """0.1 g balance, 2 %: 2.5 g; 0.01 g: 0.25 g (common arithmetic of the reading, no source)."""
    batch = weigh(lines(0.1, 1.0), LIBRARY, 250.0, 0.1)
    assert batch.least_g == pytest.approx(2.5)
    assert [line.material for line in batch.lines if line.too_light] == ["a"]
    assert not weigh(lines(0.1, 1.0), LIBRARY, 250.0, 0.01).line("a").too_light
    assert any("Too light" in note and "finer balance" in note for note in batch.notes)


def test_without_water_the_largest_line_takes_the_difference():
    batch = weigh([("a", 33.333), ("b", 66.667)], LIBRARY, 10.0, 0.1)
    assert batch.by_difference == "b"
    assert [line.grams for line in batch.lines] == [6.7, 3.3]


def test_a_batch_that_the_balance_cannot_show_is_named():
    batch = weigh(lines(10.0), LIBRARY, 100.05, 0.1)
    assert batch.total_g == pytest.approx(100.0)
    assert any("cannot show" in note for note in batch.notes)


def test_an_unknown_material_of_a_batch_is_a_key_error():
    with pytest.raises(KeyError):
        weigh(lines(10.0), LIBRARY, 100.0).line("nothing")


def test_lines_stand_in_working_order():
    library = load_library()
    batch = weigh(
        [
            ("citric-acid", 0.5),
            ("water", 80.0),
            ("phenoxyethanol", 0.9),
            ("xanthan-gum", 1.0),
            ("decyl-glucoside", 17.6),
        ],
        library,
        1000.0,
    )
    assert [line.phase for line in batch.lines] == ["water", "gum", "surfactant", "cool", "adjust"]
