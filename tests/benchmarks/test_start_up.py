"""How long a user waits: short commands against their imports, and a design of each shipped brief; opt-in."""

from __future__ import annotations

import pytest

from tests.benchmarks.children import ROOT, done
from tests.benchmarks.start_up import IMPORTS, start_up

pytestmark = pytest.mark.benchmark

BRIEFS = sorted((ROOT / "problems").glob("*/brief.toml"))
CONFLICT = "too-many-wishes"
TIMES = 3


@pytest.fixture(scope="module")
def started():
    return start_up()


@pytest.mark.parametrize(
    ("command", "times"),
    [("optiform -h", 1.0), ("optiform library show water", 2.0), ("optiform check", 5.0)],
)
def test_a_short_command_takes_few_times_what_its_imports_take(started, command, times):
    assert started[command] <= times * started[IMPORTS]


@pytest.mark.parametrize("brief", BRIEFS, ids=lambda brief: brief.parent.name)
def test_a_shipped_brief_is_answered_in_time(brief):
    """By the clock, on two quiet cores: limits are priced on one beside the search on the other; the best of three."""
    conflict = brief.parent.name == CONFLICT
    codes = (3,) if conflict else (0,)
    command = ("python", "-m", "optiform", "design", str(brief))
    taken = min(done(command, codes=codes).seconds for _ in range(TIMES))
    assert taken < (3.0 if conflict else 1.5)
