"""A wish that moves in a brief that wants to be sure: proven as a fresh design is, its room to the last bound."""

import pytest

from optiform.answers.live import Bound, LiveBrief
from optiform.program import Key
from optiform.search.first_formula import first_of
from tests.taught import wash

VISCOSITY, SURFACTANT = (Key("targets", (name,), "at_least") for name in ("viscosity", "function:surfactant"))


def sure(least):
    return wash({"viscosity": {"at_least": least, "at_most": 9000.0, "sure": 0.9}})


def test_moves_are_proven_as_a_fresh_search_proves_them():
    live = LiveBrief(sure(3000.0))
    assert live.proven().aim == pytest.approx(first_of(live.brief).objective, abs=1e-6)
    for key, to in ((VISCOSITY, 3500.0), (SURFACTANT, 19.0), (VISCOSITY, 2500.0)):
        assert live.move(Bound(key, to)).possible
        assert live.brief.targets["viscosity"].sure == 0.9
        assert live.proven().aim == pytest.approx(first_of(live.brief).objective, abs=1e-6)


@pytest.mark.slow
def test_the_room_of_a_limit_ends_where_its_margin_does():
    most = LiveBrief(sure(3000.0)).room(VISCOSITY).high
    assert first_of(sure(most)) is not None
    assert first_of(sure(most + 1.0)) is None
