"""The room of a wish ends where a fresh `check` says that it does: met just inside, refused just outside."""

from __future__ import annotations

import pytest

from optiform.answers.check import check
from optiform.answers.live import Bound, LiveBrief, changed
from optiform.faults import BadInput
from optiform.program import Key
from tests.answers.live.test_live_brief import WASHES, small
from tests.asked import problem

OFF = 0.02
"""Twice the grid to which the end of a pH or of each single share is told."""


def met(brief, key, bound) -> bool:
    """Tell whether a brief can be met with a wish at another bound; one that crosses its other side cannot."""
    try:
        return check(changed(brief, Bound(key, bound))).status == "solved"
    except BadInput:
        return False


def ends_are_true(brief, rooms) -> None:
    """Hold the end of each room against fresh checks on both its sides."""
    for key, room in rooms:
        assert room is not None
        assert room.low <= room.high + 1e-9
        end, outwards = (room.high, 1) if key.side == "at_least" else (room.low, -1)
        if key.section == "choose" or key.name == "ingredients":
            assert met(brief, key, round(end))
            assert not met(brief, key, round(end) + outwards)
        else:
            assert met(brief, key, end - outwards * 1e-5)
            assert end + outwards * OFF < 0 or not met(brief, key, end + outwards * OFF)


def test_rooms_end_where_check_says_so():
    live = LiveBrief(small())
    live.proven()
    rooms = dict(live.rooms())
    assert len(rooms) == 11
    ends_are_true(live.brief, rooms.items())


def test_a_room_by_hand():
    """Nettle: its use range ends at 5 %, and the wish asks for 1 to 3; a wish for more than 3 crosses its own side."""
    live = LiveBrief(small())
    live.proven()
    least, most = (live.room(Key("include", (1,), side)) for side in ("at_least", "at_most"))
    assert (least.low, least.high) == pytest.approx((0.0, 3.0), abs=1e-4)
    assert (most.low, most.high) == pytest.approx((1.0, 5.0), abs=1e-4)


def test_a_wish_out_of_reach_still_has_its_room():
    """The mildest that the shelf can make with all else held is the same whether the wish is met or not."""
    key = Key("targets", ("mildness",), "at_least")
    live = LiveBrief(small())
    live.proven()
    here = live.room(key)
    live.move(Bound(key, 95.0))
    there = live.room(key)
    assert (there.low, there.high) == pytest.approx((here.low, here.high), abs=1e-3)
    with pytest.raises(BadInput):
        live.room(Key("targets", ("oil",), "at_most"))


@pytest.mark.slow
@pytest.mark.parametrize("name", WASHES)
def test_rooms_of_the_shipped_washes_end_where_check_says_so(name):
    live = LiveBrief(problem(name))
    live.proven()
    ends_are_true(live.brief, live.rooms())
