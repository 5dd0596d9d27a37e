"""A ranking with an edge lists what lies under it, and says so where time was over before that was known.

Oracle: the same ranking without an edge, cut off at it.
"""

from __future__ import annotations

import numpy as np
import pytest

from optiform.brief.models import Aim
from optiform.program import build
from optiform.search.ranking import Candidate, rank
from optiform.solver import Clock
from tests.answers.live.test_live_brief import small

MANY = 5


@pytest.mark.parametrize("aim", [Aim(), Aim(measure="mildness", sense="maximise")], ids=["cost", "a mean"])
def test_an_edge_ends_a_ranking_where_it_would_go_beyond(aim):
    program = build(small(aim=aim))
    every = [item.objective for item in rank(program, MANY) if isinstance(item, Candidate)]
    assert len(every) == MANY
    for count in range(1, MANY):
        edge = (every[count - 1] + every[count]) / 2.0
        if every[count] - every[count - 1] < 1e-6:
            continue
        listed = list(rank(program, MANY, edge=lambda edge=edge: edge))
        assert [item.objective for item in listed] == pytest.approx(every[:count], abs=1e-7)
        assert all(isinstance(item, Candidate) and item.proven for item in listed)


def test_a_ranking_that_is_stopped_under_its_edge_says_that_it_was():
    program, over = build(small()), False
    clock = Clock(deadline=np.inf, given_up=lambda: over)
    ranking = rank(program, MANY, clock=clock, edge=lambda: 1e3 if over else np.inf)
    assert next(ranking).proven
    over = True
    assert [item.status for item in ranking] == ["stopped"]
