"""A clock counts down by `time.monotonic`, hears an interrupt, and speaks only where somebody listens."""

import math
import time

import pytest

from optiform.solver import NO_LIMIT, Clock, Session
from optiform.solver import clock as module
from tests.solver.test_session import blend_form


@pytest.fixture
def now(monkeypatch):
    moment = [100.0]
    monkeypatch.setattr(time, "monotonic", lambda: moment[0])
    return moment


def test_the_time_left_shrinks_to_the_deadline_and_is_then_over(now):
    clock = Clock.of(2.0)
    assert (clock.deadline, clock.left(), clock.over()) == (102.0, 2.0, False)
    now[0] = 102.0
    assert (clock.left(), clock.over()) == (0.0, True)
    now[0] = 105.0
    assert (clock.left(), clock.over()) == (-3.0, True)


def test_without_a_limit_the_time_is_never_over(now):
    for clock in (NO_LIMIT, Clock.of(None)):
        now[0] += 1e9
        assert (clock.left(), clock.over()) == (math.inf, False)


def test_progress_is_told_to_the_listener_and_to_nobody_else():
    heard = []
    Clock.of(None, heard.append).say("half way")
    NO_LIMIT.say("half way")
    assert heard == ["half way"]


def test_a_stop_ends_the_time_of_a_question_and_of_nothing_else(now, monkeypatch):
    """What has no deadline, such as the check of a formula that is going to be shown, is finished."""
    asked = [False]
    monkeypatch.setattr(module, "interrupted", lambda: asked[0])
    clocks = NO_LIMIT, Clock.of(None), Clock.of(2.0)
    assert [(clock.interrupted(), clock.over()) for clock in clocks] == [(False, False)] * 3
    asked[0] = True
    assert [(clock.interrupted(), clock.over()) for clock in clocks] == [
        (True, False), (True, True), (True, True)
    ]  # fmt: skip


def test_a_solve_that_begins_at_the_deadline_is_stopped_and_one_before_it_is_not(now):
    session = Session(blend_form(), clock=Clock.of(2.0))
    assert session.solve().status == "solved"
    now[0] = 102.0
    assert session.solve().status == "stopped"
