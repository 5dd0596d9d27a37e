"""The screened ranking against the plain one, on briefs with every kind of rule drawn at random.

``pytest -m benchmark tests/benchmarks/test_screening.py`` draws hundreds; the normal run a sample.
"""

from __future__ import annotations

import pytest

from optiform.program import breaks, build
from optiform.search.fixed_choices import ties_of
from optiform.search.narrow import candidates as few
from optiform.search.narrow import completion as complete
from optiform.search.narrow import screening
from optiform.search.narrow.screening import screen
from optiform.search.ranking import Candidate, rank
from tests.search.narrow.screen_briefs import random_brief

SEARCHES = [("PATIENCE", complete.PATIENCE), ("PATIENCE", 0.0), ("BITES", -1.0)]
"""What makes each way of the search for better formulas the usual one."""


@pytest.fixture(autouse=True)
def _few(monkeypatch):
    """Screen libraries of any size, starting from fewer materials than usual."""
    monkeypatch.setattr(screening, "MANY", 0)
    monkeypatch.setattr(few, "SPARE", 1)


def rankings(seed):
    """Return the screened ranking, the plain one at the same ionic strength, and how the first was found."""
    brief = random_brief(seed)
    wanted = brief.ranked.how_many
    screened = screen(build(brief), wanted, brief.aim.tie if brief.aim.then else 0.0)
    then = ties_of(screened.program, brief.aim.then)
    found = [c for c in screened.ranking(wanted, then, brief.aim.tie) if isinstance(c, Candidate)]
    plain = [c for c in rank(screened.program, wanted, then, brief.aim.tie) if isinstance(c, Candidate)]
    way = "whole" if not screened.left_out else "proven list" if screened.listed else "part"
    return screened.program, found, plain, way if plain else "impossible"


def assert_same(seed):
    program, found, plain, way = rankings(seed)
    assert [c.objective for c in found] == pytest.approx([c.objective for c in plain], abs=2e-6), seed
    structures = [tuple(c.values[program.structure].round()) for c in found]
    assert len(set(structures)) == len(found) or not len(program.structure)
    for candidate in found:
        assert candidate.proven
        assert breaks(program, candidate.values) == ()
        assert candidate.objective == pytest.approx(
            float(program.form.objective @ candidate.values), abs=1e-7
        ) or (program.ratio_aim is not None)
    return way


@pytest.mark.parametrize(
    ("name", "value"), SEARCHES, ids=["mixtures first", "formulas at once", "one for all"]
)
@pytest.mark.parametrize(
    "first", [0, *(pytest.param(first, marks=pytest.mark.slow) for first in range(4, 40, 4))]
)
def test_the_same_list_with_every_kind_of_rule(first, name, value, monkeypatch):
    """Objectives to two millionths, since both searches end within one; structures differ from each other."""
    monkeypatch.setattr(complete, name, value)
    for seed in range(first, first + 4):
        assert_same(seed)
