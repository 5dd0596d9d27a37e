"""The screened ranking against the plain one on hundreds of random briefs; too long for the normal run."""

from __future__ import annotations

from collections import Counter

import pytest

from optiform.search.narrow import candidates as few
from optiform.search.narrow import completion as complete
from optiform.search.narrow import screening
from tests.search.narrow.test_screen_rules import SEARCHES, assert_same

BRIEFS = range(1000, 1400)


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("name", "value"), SEARCHES, ids=["mixtures first", "formulas at once", "one for all"]
)
def test_hundreds_of_briefs_are_ranked_as_without_screening(name, value, monkeypatch):
    """Every way in which a list can be found occurs many times."""
    monkeypatch.setattr(screening, "MANY", 0)
    monkeypatch.setattr(few, "SPARE", 1)
    monkeypatch.setattr(complete, name, value)
    ways = Counter(assert_same(seed) for seed in BRIEFS)
    assert ways["proven list"] > 20 and ways["part"] > 20
