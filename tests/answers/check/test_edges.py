"""Briefs that can only just be met: a window of no width, a limit met to the last digit."""

from __future__ import annotations

import pytest

from optiform.answers.check import check
from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.design import design
from optiform.brief import brief_from


def soft(active):
    """Return a brief whose pH may be 7 and nothing else: what cleans works from 7 on, what preserves up to it."""
    return brief_from(
        {
            "title": "pH 7 sharp",
            "area": "body",
            "law": "EU",
            "targets": {
                "active matter": {"at_least": active},
                "cost": {"at_most": 1.82},
                "pH": {"at_least": 7.0, "at_most": 8.0},
                "ingredients": {"at_most": 8},
            },
            "include": [{"material": "chamomile-extract"}],
            "exclude": [{"tag": "dispersing"}],
            "share": [{"each": "surfactant", "at_most": 40.0}],
            "ratio": [{"of": "amphoteric", "to": "anionic", "at_least": 2.0}],
        }
    )


@pytest.mark.parametrize("active", [16.0, 17.32])
def test_a_pH_of_no_width_is_met(active):
    """Water's own charge per % near pH 7 is below what a solver takes for nothing, and 50 % of it is not."""
    answer = check(soft(active))
    assert answer.status == "solved"
    assert answer.formulas[0].acidity.pH == pytest.approx(7.0, abs=1e-5)


@pytest.mark.slow
def test_the_ways_out_of_a_brief_at_such_a_pH_work():
    brief = soft(28.0)
    found = design(brief).conflict
    changes = {change.requirement.measure: change.to for change in found.single_changes}
    assert changes.keys() == {"active matter", "cost"}
    assert all(check(typed_back(brief, change)).status == "solved" for change in found.single_changes)
    assert check(typed_back(brief, *found.compromise)).status == "solved"


@pytest.mark.parametrize(
    ("room", "told"),
    [
        ((4.879092918, 5.0), "from pH 4.88 to 5."),
        ((6.9999999, 7.0000001), "at pH 7 alone."),
        ((4.991, 4.998), "from pH 4.991 to 4.998."),
    ],
)
def test_the_room_of_a_pH_is_told_inside_itself(monkeypatch, room, told):
    monkeypatch.setattr("optiform.answers.describe.formula.room_for_pH", lambda *arguments: room)
    formula = check(soft(16.0)).formulas[0]
    assert any(note.startswith(f"What is in it works together only {told}") for note in formula.notes)
