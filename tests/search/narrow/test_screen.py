"""Screening finds the ranking of the plain program, on random briefs and on the starter library."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optiform.brief import brief_from
from optiform.brief.models import Aim
from optiform.program import build
from optiform.search.fixed_choices import ties_of
from optiform.search.ionic_strength import ground
from optiform.search.narrow import screening
from optiform.search.narrow.screening import screen
from optiform.search.ranking import Candidate, WarmStart, rank
from tests.answers.random_briefs import briefs

COUNT = 4
STARTER = {
    "title": "nettle gel",
    "on": None,
    "targets": {
        "active matter": {"at_least": 10.0, "at_most": 12.0},
        "mildness": {"at_least": 60},
        "pH": {"at_least": 4.9, "at_most": 5.2},
        "ingredients": {"at_most": 13},
    },
    "choose": [{"function": "surfactant", "at_least": 2, "at_most": 4}],
    "share": [{"each": "surfactant", "at_most": 60}, {"of": "anionic", "at_least": 30}],
    "include": [{"function": "thickener", "at_least": 0.6}, {"material": "nettle-extract", "at_least": 2.0}],
    "ranked": {"how_many": COUNT},
}
BENCH = {**STARTER["targets"], "pH": {"at_least": 4.9, "at_most": 5.2, "set": "bench"}}


def aims(found):
    return [item.objective for item in found if isinstance(item, Candidate)]


def plain(program):
    grounded = ground(program)
    return grounded.program, aims(
        rank(grounded.program, COUNT, start=WarmStart(grounded.session, grounded.first))
    )


@pytest.fixture(autouse=True)
def _always(monkeypatch):
    """Screen libraries of any size."""
    monkeypatch.setattr(screening, "MANY", 0)


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(briefs())
def test_screening_changes_no_ranking(brief):
    _, expected = plain(build(brief))
    screened = screen(build(brief), COUNT)
    assert aims(screened.ranking(COUNT)) == pytest.approx(expected, abs=1e-6)


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    briefs(), st.sampled_from(["mildness", "share:anionic", "natural origin without water"]), st.booleans()
)
def test_screening_changes_no_ranking_by_a_ratio(brief, measure, most):
    aim = Aim(measure=measure, sense="maximise" if most else "minimise")
    asked = build(brief.model_copy(update={"aim": aim}))
    _, expected = plain(asked)
    assert aims(screen(asked, COUNT).ranking(COUNT)) == pytest.approx(expected, abs=1e-6)


def starter(**changed):
    return brief_from({key: value for key, value in {**STARTER, **changed}.items() if value is not None})


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"aim": {"minimise": "active matter"}, "targets": BENCH},
        {"aim": {"maximise": "natural origin"}, "targets": BENCH},
        {"exclude": [{"tag": "sulfate"}]},
        {"targets": BENCH},
        pytest.param(
            {"aim": {"maximise": "mildness"}, "targets": {**BENCH, "cost": {"at_most": 1.5}}},
            marks=pytest.mark.slow,
        ),
        pytest.param(
            {"aim": {"maximise": "mildness"}, "targets": {**STARTER["targets"], "cost": {"at_most": 1.5}}},
            marks=pytest.mark.slow,
        ),
    ],
    ids=[
        "cost",
        "strength",
        "natural origin",
        "without sulfates",
        "bench pH",
        "mildness",
        "mildness at a pH",
    ],
)
def test_the_starter_library_is_ranked_as_without_screening(changed):
    brief = starter(**changed)
    program, expected = plain(build(brief))
    screened = screen(build(brief), COUNT)
    assert aims(screened.ranking(COUNT)) == pytest.approx(expected, abs=2e-4 if program.acid_rows else 1e-6)


def test_much_of_the_starter_library_is_proven_to_be_of_no_use():
    screened = screen(build(starter()), COUNT)
    assert screened.left_out > 0.3 * screened.program.size


def test_tie_breaks_see_every_formula_within_their_allowance():
    brief = starter(aim={"minimise": "cost", "then": ["ingredients"], "tie": 0.02})
    program = build(brief)
    screened = screen(program, COUNT, brief.aim.tie)
    then = ties_of(screened.program, brief.aim.then)
    chosen = [item for item in screened.ranking(COUNT, then, brief.aim.tie) if isinstance(item, Candidate)]
    whole = ground(screened.program)
    wanted = [
        item
        for item in rank(whole.program, COUNT, ties_of(whole.program, brief.aim.then), brief.aim.tie,
                         start=WarmStart(whole.session, whole.first))
        if isinstance(item, Candidate)
    ]  # fmt: skip
    assert aims(chosen) == pytest.approx(aims(wanted), abs=1e-6)
    allowed = min(aims(wanted)) + brief.aim.tie
    for one, other in zip(chosen, wanted, strict=True):
        if other.objective <= allowed:
            lengths = [int((item.values[: program.size] > 1e-9).sum()) for item in (one, other)]
            assert lengths[0] == lengths[1]
