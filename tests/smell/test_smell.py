"""What is proposed is something that a formulator would weigh, also where prices are shuffled to find every hole."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import pytest

from tests.smell.corpus import cases, laughed_at, laughed_at_ways_out
from tests.smell.judge import Wash, complaints
from tests.smell.shelf import shelf

SAMPLE = [case for number, case in enumerate(cases(3)) if number % 31 == 5]
SPOILT = [(("normal", "gel", "EU", 1), (1,)), (("mature", "conditioning-slip", "UK", 1), (0,))]
MORE_SPOILT = [case for case, _ in SPOILT] + [
    case for number, case in enumerate(cases(2)) if number % 122 == 7
]
GOOD = {
    "water": 71.5, "sodium-benzoate": 0.4, "potassium-sorbate": 0.2, "tetrasodium-glutamate-diacetate": 0.2,
    "glycerin": 3.2, "xanthan-gum": 0.8, "sodium-laureth-sulfate-28": 14.0, "cocamidopropyl-betaine-30": 9.2,
    "citric-acid-50": 0.5,
}  # fmt: skip


def test_a_plain_wash_has_nothing_against_it():
    assert complaints(Wash(GOOD, 4.6)) == []


@pytest.mark.parametrize(
    ("change", "pH", "said"),
    [
        ({"sodium-benzoate": 0.0, "water": 71.9}, 4.6, "preserved"),
        ({}, 5.3, "preserved"),
        ({}, 8.9, "skin_pH"),
        ({"cationic-guar": 0.2, "water": 71.3}, 4.6, "opposite_charges"),
        ({"cetrimonium-chloride-29": 1.0, "water": 70.5}, 4.6, "opposite_charges"),
        ({"mica-gold": 0.2, "water": 71.3}, 4.6, "what_settles_is_held"),
        ({"sunflower-oil": 5.0, "water": 66.5}, 4.6, "oil_is_carried"),
        ({"salicylic-acid": 2.0, "water": 69.5}, 4.6, "no_odd_heap"),
        ({"glycerin": 55.0, "water": 19.7}, 4.6, "mostly_water"),
        ({"sodium-hydroxide-25": 0.004, "water": 71.496}, 4.6, "no_dust"),
        ({"sodium-cocoyl-glycinate": 5.0, "water": 66.5}, 4.6, "curdles"),
        ({"glycerin": 1.0, "water": 73.7}, 4.6, "gum_has_its_liquid"),
        ({"water": 70.0}, 4.6, "adds_up"),
    ],
)
def test_each_check_can_fail(change, pH, said):
    assert any(line.startswith(said) for line in complaints(Wash({**GOOD, **change}, pH)))


def test_the_tables_are_read_whole():
    assert len(shelf().materials) > 150
    assert all(abs(sum(parts.values()) - 100.0) < 0.01 for parts in shelf().holds.values())


@pytest.mark.parametrize("case", SAMPLE, ids=str)
def test_a_sample_of_designs_would_be_weighed(case):
    assert laughed_at(case) == []


@pytest.mark.parametrize(("case", "spoilings"), SPOILT, ids=str)
def test_a_few_ways_out_would_be_weighed(case, spoilings):
    assert laughed_at_ways_out(case, spoilings) == []


@pytest.mark.slow
@pytest.mark.parametrize("case", MORE_SPOILT, ids=str)
def test_a_sample_of_ways_out_would_be_weighed(case):
    assert laughed_at_ways_out(case) == []


@pytest.mark.corpus
def test_every_design_would_be_weighed():
    with ProcessPoolExecutor() as pool:
        assert [line for found in pool.map(laughed_at, cases(20)) for line in found] == []


@pytest.mark.corpus
def test_every_way_out_would_be_weighed():
    with ProcessPoolExecutor() as pool:
        assert [line for found in pool.map(laughed_at_ways_out, cases(5)) for line in found] == []
