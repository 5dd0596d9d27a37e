"""Ten trials planned in five seconds, a bench learned in half a second; opt-in."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from optiform import learn, load_brief, load_library, plan_trials

pytestmark = pytest.mark.benchmark
PROBLEMS = Path(__file__).parents[2] / "problems"


@pytest.mark.parametrize("name", ["nettle-gel-oily-skin", "spruce-shampoo", "sea-buckthorn-emulsion-wash"])
def test_ten_trials_are_planned_in_five_seconds(name, capsys):
    brief = load_brief(PROBLEMS / name / "brief.toml")
    start = time.process_time()
    found = plan_trials(brief, trials=10)
    seconds = time.process_time() - start
    with capsys.disabled():
        print(f"\n{name}: {seconds:.2f} s for {len(found.trials)} trials")
    assert seconds < 5.0


def test_a_bench_is_learned_in_half_a_second(capsys):
    library = load_library()
    start = time.process_time()
    learn(PROBLEMS / "three-evenings" / "bench", library=library)
    seconds = time.process_time() - start
    with capsys.disabled():
        print(f"\nnine trials: {seconds:.2f} s")
    assert seconds < 0.5
