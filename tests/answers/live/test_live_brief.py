"""A moved brief comes to what a fresh `check` of it comes to, whatever moved; what is not proven never says so.

The oracle is `check` on the brief as it reads after the move: it knows nothing of the move before.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from optiform.answers.check import check
from optiform.answers.evaluate.judging import Judge, Recheck
from optiform.answers.live import Added, Bound, LiveBrief, Proven, Removed, changed
from optiform.brief import missing_guards
from optiform.brief.models import Brief, Certainty, Choose, Include, Share, Target
from optiform.faults import BadInput
from optiform.program import Break, Key, build
from optiform.search.fixed_choices import polish
from optiform.solver import Clock
from tests.answers.live.moves import anything, gentle
from tests.asked import problem
from tests.program.samples import SYSTEMS, WASH, shelf

WASHES = (
    "first-bath-baby-mild",
    "linden-cream-dry-skin",
    "nettle-gel-oily-skin",
    "oat-conditioning-wash",
    "sea-buckthorn-emulsion-wash",
    "spruce-shampoo",
)
MILDNESS = Key("targets", ("mildness",), "at_least")
SHARE = Key("share", (1,), "at_least")


def small(**more) -> Brief:
    """Return a brief with a dosed pH, counts, shares and an include on a dozen invented materials."""
    library = shelf(*WASH, "nettle", "acid", "preserver", "alcohol", systems=SYSTEMS)
    fields = {
        "title": "Quay wash",
        "library": library,
        "law": "none",
        "targets": {
            "active matter": Target(at_least=8.0, at_most=12.0),
            "mildness": Target(at_least=55.0),
            "pH": Target(at_least=4.5, at_most=5.5),
        },
        "include": (Include(material="nettle", at_least=1.0, at_most=3.0),),
        "choose": (Choose(function="surfactant", at_least=2, at_most=3),),
        "share": (Share(of="anionic", at_least=20.0), Share(each="surfactant", at_most=70.0)),
    }
    return Brief(**{**fields, **more})


def same_as_check(proven: Proven, brief: Brief) -> None:
    """Hold a proven answer against a fresh one: the same verdict, the same aim."""
    fresh = check(brief)
    assert proven.status == fresh.status
    assert proven.proven
    if fresh.formulas:
        assert proven.aim == pytest.approx(fresh.formulas[0].aim, abs=1e-6)


def walk(brief: Brief, count: int, draw: random.Random) -> None:
    """Move a brief at random, so often, and hold each answer against a fresh one; it starts anew now and then."""
    live = LiveBrief(brief)
    live.proven()
    moves = 0
    while moves < count:
        try:
            provisional = live.move(
                anything(live.brief, draw) if draw.random() < 0.7 else gentle(live.brief, draw)
            )
        except BadInput:
            continue
        moves += 1
        proven = live.proven()
        same_as_check(proven, live.brief)
        if provisional.possible and proven.program.aim_sign > 0 and not proven.brief.aim.then:
            assert provisional.aim >= proven.aim - 1e-6
        if proven.status != "solved" or moves % 10 == 0:
            live = LiveBrief(brief)
            live.proven()


def test_twenty_random_moves_come_to_what_a_fresh_check_comes_to():
    walk(small(), 20, random.Random(1))


@pytest.mark.slow
@pytest.mark.parametrize("name", WASHES)
def test_a_thousand_random_moves_over_all_washes_come_to_what_a_fresh_check_comes_to(name):
    walk(problem(name), 167, random.Random(name))


def test_ties_that_go_to_the_shorter_and_aims_that_are_means_are_followed():
    for aim in (
        {"measure": "cost", "then": ("ingredients",), "tie": 0.05},
        {"measure": "mildness", "sense": "maximise"},
    ):
        brief = small()
        brief = brief.model_copy(update={"aim": brief.aim.model_copy(update=aim)})
        live = LiveBrief(brief)
        live.proven()
        for to in (57.0, 58.0, 50.0):
            live.move(Bound(MILDNESS, to))
            same_as_check(live.proven(), live.brief)


def test_the_provisional_formula_is_the_best_of_its_choices_in_the_moved_brief():
    """Held against the same choices solved afresh in a program that was built from the moved brief."""
    live = LiveBrief(small())
    first = live.proven()
    for to in (57.0, 60.0, 61.5):
        found = live.move(Bound(MILDNESS, to))
        afresh = polish(build(live.brief), first.values)
        assert found.possible and afresh is not None
        assert found.aim == pytest.approx(afresh.objective, abs=1e-9)
        assert found.figure("mildness") >= to - 1e-9
        assert sum(found.amounts.values()) == pytest.approx(100.0, abs=1e-9)


def test_what_stands_for_a_moment_is_judged_as_a_printed_formula_is(monkeypatch):
    """Held against a judge of the brief as it then reads, built afresh; what it breaks is no formula."""
    live = LiveBrief(small())
    live.proven()
    for change in (Bound(MILDNESS, 57.0), Bound(SHARE, 22.0), Removed("share", 2), Bound(MILDNESS, 58.0)):
        found = live.move(change)
        assert not Recheck().broken(live.brief, found.amounts.items())
        assert Recheck().broken(changed(live.brief, Bound(MILDNESS, 95.0)), found.amounts.items())
    broken = Break(live.move(Bound(MILDNESS, 57.0)).stated.requirements[0], 1.0)
    with monkeypatch.context() as wrong:
        wrong.setattr(Judge, "breaks", lambda *_: (broken,))
        assert not live.move(Bound(MILDNESS, 56.0)).possible
    same_as_check(live.proven(), live.brief)


def test_a_proven_formula_is_judged_by_the_judge_that_moves_as_by_one_that_is_built_afresh():
    """Both say the same of what is proven and of the formula at a looser bound, which breaks the tighter one."""
    live = LiveBrief(small())
    proven = live.proven()
    assert live.judged(proven)
    for to in (8.5, 9.0, 9.5):
        before, _ = proven, live.move(Bound(Key("targets", ("active matter",), "at_least"), to))
        assert not live.judged(before), "the brief has moved on"
        proven = live.proven()
        looser = replace(proven, values=before.values)
        assert (live.judged(proven), live.judged(looser)) == (True, False)
        assert not Recheck().broken(live.brief, proven.amounts.items())
        assert Recheck().broken(live.brief, looser.amounts.items())
        assert proven.same(proven) and not proven.same(looser) and not proven.same(before)


def test_choices_that_a_move_makes_impossible_are_said_to_be():
    """By hand: two surfactants stand in the formula, and three are asked for; then a material of it is kept out."""
    live = LiveBrief(small())
    assert len([name for name in live.proven().amounts if name in WASH[:3]]) == 2
    assert not live.move(Bound(Key("choose", (1,), "at_least"), 3)).possible
    assert len([name for name in live.proven().amounts if name in WASH[:3]]) == 3
    live.move(Bound(Key("include", (1,), "at_least"), 0.0))
    same_as_check(live.proven(), live.brief)


def test_a_wish_that_cannot_be_met_is_a_proven_conflict_with_ways_out():
    """By hand: no surfactant of this shelf has more than 90, so a mean of 95 is out of reach."""
    live = LiveBrief(small())
    live.proven()
    assert not live.move(Bound(MILDNESS, 95.0)).possible
    refused = live.proven()
    assert (refused.status, refused.proven, refused.values) == ("conflict", True, None)
    told = live.conflict()
    assert MILDNESS in {item.key for item in told.conflict.requirements}
    live.move(Bound(MILDNESS, 55.0))
    same_as_check(live.proven(), live.brief)


def test_a_newer_move_stops_an_older_proof_and_time_that_is_over_proves_nothing():
    live = LiveBrief(small())
    live.proven()
    live.move(Bound(MILDNESS, 57.0))
    asked = 0

    def moves_on() -> bool:
        nonlocal asked
        asked += 1
        if asked == 1:
            live.move(Bound(MILDNESS, 58.0))
        return False

    stopped = live.proven(Clock(given_up=moves_on))
    assert asked >= 1
    assert not stopped.proven
    assert stopped.brief.targets["mildness"].at_least == 57.0
    same_as_check(live.proven(), live.brief)
    live.move(Bound(MILDNESS, 59.0))
    assert not live.proven(Clock.of(0.0)).proven
    same_as_check(live.proven(), live.brief)


def test_a_change_that_makes_no_brief_is_refused_and_changes_nothing():
    live = LiveBrief(small())
    before = live.brief
    for change in (
        Bound(Key("targets", ("active matter",), "at_least"), 13.0),
        Bound(MILDNESS, 101.0),
        Bound(Key("targets", ("glossiness",), "at_least"), 1.0),
        Bound(Key("choose", (1,), "at_least"), 2.5),
        Bound(Key("include", (2,), "at_least"), 1.0),
        Bound(Key("include", (1,), "used"), 1.0),
        Added("include", Include(material="no-such-leaf")),
        Removed("share", 3),
        Removed("targets", "oil"),
    ):
        with pytest.raises(BadInput):
            live.move(change)
    assert live.brief is before


def test_targets_come_and_go():
    brief = changed(small(), Bound(Key("targets", ("cost",), "at_most"), 3.0))
    assert brief.targets["cost"] == Target(at_most=3.0)
    assert "cost" not in changed(brief, Bound(Key("targets", ("cost",), "at_most"), None)).targets
    assert "cost" not in changed(brief, Removed("targets", "cost")).targets
    assert changed(brief, Removed("include", 1)).include == ()


def test_a_guard_that_a_change_takes_away_is_noted_as_when_the_brief_is_read():
    """Held against what reading the brief says: the notes of the changed brief are those of its own guards."""
    brief = problem("nettle-gel-oily-skin")
    fewer = changed(brief, Removed("targets", "active matter"))
    assert set(missing_guards(fewer)) > set(missing_guards(brief))
    assert fewer.notes == missing_guards(fewer)
    assert changed(
        fewer, Bound(Key("targets", ("active matter",), "at_least"), 11.0)
    ).notes == missing_guards(changed(fewer, Bound(Key("targets", ("active matter",), "at_least"), 11.0)))


def test_limits_for_every_lot_are_not_asked_here():
    with pytest.raises(BadInput, match="certainty"):
        LiveBrief(small(certainty=Certainty()))
