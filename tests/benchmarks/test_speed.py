"""What optiform promises of its speed, each against the plain way on the same brief; opt-in."""

from __future__ import annotations

import pytest

from tests.benchmarks.children import done
from tests.benchmarks.instances import HOW_MANY, PROBLEMS, place
from tests.benchmarks.resolves import compared
from tests.benchmarks.speed import designed, plainly

pytestmark = pytest.mark.benchmark

GIB = 2**30
LONG_ENOUGH = 60.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    kept = tmp_path_factory.mktemp("speed")
    done(("python", "-m", "tests.benchmarks.instances", str(kept), "500,5000,50000"), 300.0)
    return kept


@pytest.mark.parametrize("problem", PROBLEMS)
@pytest.mark.parametrize("way", ["highs", "cbc", "scipy"])
def test_the_plain_way_comes_to_the_same_answer(folder, problem, way):
    brief = place(folder, problem, 500)
    _, aims, strength = designed(brief)
    assert len(aims) == HOW_MANY
    assert not plainly(way, brief, strength, aims, LONG_ENOUGH).capped


def test_so_does_the_plain_way_for_ten(folder):
    brief = place(folder, "nettle", 500)
    _, aims, strength = designed(brief)
    assert not plainly("ten", brief, strength, aims, LONG_ENOUGH).capped


@pytest.mark.parametrize("problem", PROBLEMS)
def test_ten_of_five_thousand_materials_come_before_the_plain_one(folder, problem):
    brief = place(folder, problem, 5000)
    ours, aims, strength = designed(brief)
    assert len(aims) == HOW_MANY
    plain = plainly("highs", brief, strength, aims, LONG_ENOUGH)
    assert ours.seconds < plain.seconds


def test_fifty_thousand_materials_in_ten_seconds_and_two_gibibytes(folder):
    ours, aims, _ = designed(place(folder, "nettle", 50_000))
    assert len(aims) == HOW_MANY
    assert ours.seconds < 10.0
    assert ours.memory < 2 * GIB


@pytest.fixture(scope="module")
def resolved():
    return compared()


@pytest.mark.parametrize("change", ["price", "limit"])
@pytest.mark.parametrize(("choices", "times"), [("kept", 20.0), ("free", 1.0)])
def test_a_live_session_answers_again_faster_than_a_fresh_program(resolved, change, choices, times):
    (found,) = [one for one in resolved if (one.change, one.choices) == (change, choices)]
    assert found.ratio >= times
