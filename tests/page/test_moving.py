"""A moved wish on the page: what is proven is what a fresh check says, and the room is what a check can meet."""

from __future__ import annotations

import pytest

from optiform import check, starter_brief, stopping
from optiform.answers.live import Found
from optiform.page import moving
from optiform.page.edits import Edit, edited
from optiform.solver import clock
from tests.page.bench import BRIEF


@pytest.fixture(autouse=True)
def _forgotten():
    moving._held.clear()


@pytest.fixture
def path(tmp_path):
    found = tmp_path / "x.toml"
    found.write_text(BRIEF, encoding="utf-8")
    return found


def asked(question, path):
    """Ask a question about a brief as it stands in its file; return what it tells on its way, and the answer."""
    steps = []
    found = question(str(path), path.read_text(encoding="utf-8"), "", progress=steps.append)
    return steps, found


MOVES = [
    (("targets", "mildness", "at_least"), 60),
    (("targets", "active matter", "at_most"), 7),
    (("targets", "active matter", "at_least"), None),
    (("exclude", 1), {"tag": "palm"}),
]


def test_one_bound_is_told_apart_from_larger_changes(path):
    """Only one bound may be moved in place; anything else is read as a whole brief."""
    from optiform import load_brief

    old = load_brief(path)
    keys = []
    for place, value in MOVES[:4]:
        path.write_text(edited(BRIEF, [Edit(place, value)]), encoding="utf-8")
        change = moving._change(old, load_brief(path))
        keys.append(None if change is None else (str(change.key), change.to))
    assert keys == [
        ("targets/mildness/at_least", 60),
        ("targets/active matter/at_most", 7),
        ("targets/active matter/at_least", None),
        None,
    ]


@pytest.mark.slow
def test_every_move_is_proven_as_a_fresh_check_has_it(path):
    """The oracle is `check` on the same file, in which nothing is kept from one question to the next."""
    path.write_text(starter_brief("oily", "gel"), encoding="utf-8")
    assert asked(moving.proven, path)[0] == [None], "nothing is known before the first answer"
    for bound in (66, 70, 75, 97, 60):
        text = edited(path.read_text(encoding="utf-8"), [Edit(("targets", "mildness", "at_least"), bound)])
        path.write_text(text, encoding="utf-8")
        ((first,), told), fresh = asked(moving.proven, path), check(path)
        assert first.verdict in (moving.AT_THE_SAME, moving.NOT_WITH_THESE)
        assert told.status == fresh.status
        if fresh.formulas:
            assert told.aim == f"{fresh.formulas[0].cost:.2f} EUR/kg"


def test_what_a_proof_leaves_as_it_stands_is_described_once(path, monkeypatch):
    """The panel of the proven answer is the one that a page asks for which knows nothing of the moment before."""
    asked(moving.proven, path)
    path.write_text(BRIEF.replace("55", "57"), encoding="utf-8")
    described = []
    with monkeypatch.context() as counted:
        formula = Found.formula
        counted.setattr(Found, "formula", lambda found: described.append(found) or formula(found))
        (first,), told = asked(moving.proven, path)
    assert len(described) == 1
    assert first.body == told.body and first.verdict != told.verdict
    moving._held.clear()
    _, fresh = asked(moving.proven, path)
    assert (fresh.body, fresh.verdict, fresh.aim) == (told.body, told.verdict, told.aim)


def test_a_proof_that_is_stopped_says_nothing(path, monkeypatch):
    monkeypatch.setattr(stopping, "interrupted", lambda: True)
    monkeypatch.setattr(clock, "interrupted", lambda: True)
    _, told = asked(moving.proven, path)
    assert (told.status, told.body, told.formulas) == ("stopped", "", ())


@pytest.mark.slow
def test_the_room_is_where_a_check_says_yes_and_no(path):
    found = {reach.field: reach for reach in asked(moving.rooms, path)[1]}
    end = found['["targets", "mildness", "at_least"]'].high
    assert end is not None
    for bound, status in ((end - 0.5, "solved"), (end + 0.5, "conflict")):
        path.write_text(BRIEF.replace("55", f"{bound:.3f}"), encoding="utf-8")
        assert check(path).status == status
