"""A thousand briefs recost on one process and on two, in one run; opt-in."""

from __future__ import annotations

import time

import pytest

from optiform import recost
from tests.answers.recost.products import folder, prices

pytestmark = pytest.mark.benchmark
COUNT = 1000
MOST = 0.6


def test_two_workers_take_at_most_six_tenths_of_the_time_of_one(tmp_path, capsys):
    root = folder(tmp_path / "products", COUNT)
    new = prices(root, nettle_soap=5.0)
    seconds, results = {}, {}
    for workers in (1, 2):
        began = time.perf_counter()
        results[workers] = recost(root, new, library=root / "library", workers=workers)
        seconds[workers] = time.perf_counter() - began
    with capsys.disabled():
        print(
            f"\nrecost of {COUNT} briefs: one process {seconds[1]:.1f} s, two {seconds[2]:.1f} s, "
            f"ratio {seconds[2] / seconds[1]:.2f}"
        )
    assert results[1] == results[2]
    assert seconds[2] <= MOST * seconds[1]
