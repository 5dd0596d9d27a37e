"""The screened ranking against the plain one on hundreds of random briefs; too long for the normal run."""

from __future__ import annotations

from collections import Counter

import pytest

from optiform.answers import screen as screening
from tests.answers.test_screen_rules import assert_same

BRIEFS = range(1000, 1400)


@pytest.mark.benchmark
@pytest.mark.parametrize("patience", [screening.PATIENCE, 0.0], ids=["mixtures first", "formulas at once"])
def test_hundreds_of_briefs_are_ranked_as_without_screening(patience, monkeypatch):
    """Every way in which a list can be found occurs many times."""
    monkeypatch.setattr(screening, "MANY", 0)
    monkeypatch.setattr(screening, "SPARE", 1)
    monkeypatch.setattr(screening, "PATIENCE", patience)
    ways = Counter(assert_same(seed) for seed in BRIEFS)
    assert ways["proven list"] > 20 and ways["part"] > 20
