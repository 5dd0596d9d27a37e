"""Questions in processes of their own: answered once, refused with their faults, stopped, survived."""

from __future__ import annotations

import multiprocessing
import os
import time

import pytest

from optiform.faults import BadInput, Fault
from optiform.page.asking import Asker


def told(word, *, progress=None):
    return f"{word}, process {os.getpid()}"


def refused(*, progress=None):
    raise BadInput([Fault("a.toml", "title", "missing")])


def dead(*, progress=None):
    os._exit(3)


def long(*, progress=None):
    from optiform.stopping import interrupted

    progress("begun")
    while not interrupted():
        time.sleep(0.01)
    return "as far as it came"


@pytest.fixture
def asker():
    found = Asker(workers=1)
    yield found
    found.close()


def test_questions_are_answered_refused_stopped_and_survived(asker):
    """One process after the other: starting one takes a second, so that they share it."""
    first = asker.ask("a", told, "yes")
    assert first.done.wait(60) and first.answer.startswith("yes") and str(os.getpid()) not in first.answer
    assert asker.ask("a", told, "other") is first, "the same key is the same question"

    bad = asker.ask("b", refused)
    assert bad.done.wait(60) and [fault.place for fault in bad.faults] == ["title"]

    slow, waiting = asker.ask("c", long), asker.ask("d", told, "later")
    while not slow.step:
        assert not slow.done.wait(0.01)
    asker.stop(slow)
    assert slow.done.wait(60) and slow.answer == "as far as it came"
    assert waiting.done.wait(60) and waiting.answer.startswith("later")

    broken = asker.ask("e", dead)
    assert broken.done.wait(60) and "files are not to blame" in broken.failure
    again = asker.ask("e", told, "alive", again=True)
    assert again.done.wait(60) and again.answer.startswith("alive")
    assert asker.ticket(again.number) is again and asker.ticket("0") is None


def test_a_question_that_is_stopped_before_it_begins_never_does(asker):
    slow, waiting = asker.ask("c", long), asker.ask("d", told, "never")
    asker.stop(waiting)
    while not slow.step:
        assert not slow.done.wait(0.01)
    asker.stop(slow)
    assert waiting.done.wait(60) and waiting.answer is None


def test_closing_ends_every_process_and_begins_no_other():
    """A process that lives on would keep the end of the program waiting."""
    asker = Asker(workers=1)
    slow, waiting = asker.ask("c", long), asker.ask("d", told, "never")
    while not slow.step:
        assert not slow.done.wait(0.01)
    ours = [child for child in multiprocessing.active_children() if child.is_alive()]
    asker.close()
    assert slow.done.wait(60) and waiting.done.wait(60)
    assert slow.failure and waiting.failure
    for child in ours:
        child.join(60)
    assert multiprocessing.active_children() == []
