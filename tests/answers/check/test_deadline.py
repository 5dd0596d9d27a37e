"""`--seconds` holds within a tenth and 0.3 s, for the search and for all that is told of what it found.

The clock is counted, not read: every solve takes a hundredth of a second of it, so that an answer that goes on
solving after its time is seen on any machine.
"""

import time
from pathlib import Path

import pytest

from optiform.answers.check import check
from optiform.answers.design import design
from optiform.brief import load_brief
from optiform.solver import Clock, Session
from optiform.solver.interrupt import StopCheck

SOLVE = 0.01
PROBLEMS = ("nettle-gel-oily-skin", "too-many-wishes")


class CountedTime:
    """Time that moves only when something is done."""

    now = 0.0

    def tick(self, seconds):
        self.now += seconds
        return self.now


@pytest.fixture
def clock(monkeypatch):
    found, solve = CountedTime(), Session.solve

    def counted(self, *arguments, **more):
        if not self.clock.over():
            found.tick(SOLVE)
        return solve(self, *arguments, **more)

    monkeypatch.setattr(time, "monotonic", lambda: found.now)
    monkeypatch.setattr(Session, "solve", counted)
    monkeypatch.setattr(
        Session, "_limit_time", lambda session, whole: None
    )  # the solver's own clock is a real one
    return found


@pytest.mark.parametrize("name", PROBLEMS)
@pytest.mark.parametrize(
    "seconds", [0.05, 0.3, *(pytest.param(long, marks=pytest.mark.slow) for long in (1.0, 3.0))]
)
@pytest.mark.parametrize("in_full", [False, True])
def test_a_design_ends_in_time(name, seconds, in_full, clock):
    brief = load_brief(Path("problems") / name / "brief.toml")
    answer = design(brief, seconds=seconds, in_full=in_full)
    assert clock.now <= 1.1 * seconds + 0.3
    if clock.now >= seconds:
        assert not answer.proven or answer.notes or not answer.conflict.complete


@pytest.mark.parametrize("seconds", [0.05, 0.3])
def test_a_check_ends_in_time(seconds, clock):
    for name in PROBLEMS:
        began = clock.now
        check(load_brief(Path("problems") / name / "brief.toml"), seconds=seconds)
        assert clock.now - began <= 1.1 * seconds + 0.3


def test_a_solver_that_asks_after_the_deadline_stops_however_its_own_clock_counts(monkeypatch):
    now = [0.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    stop_check = StopCheck(clock=Clock(2.0))
    assert not stop_check.enough()
    now[0] = 2.0
    assert stop_check.enough()
    assert not stop_check.stopped_by_user
