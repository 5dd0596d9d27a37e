"""A thousand questions in one process need no more memory than a few: nothing holds on to a solver.

Measured as the memory of the process itself (/proc/self/statm, Linux), because a solver's is not Python's.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import weakref
from pathlib import Path

import pytest

from optiform.program import build
from optiform.solver import Session
from tests.program.samples import wash

ROOT = Path(__file__).parents[1]
MEASURED = """\
import gc, os, sys
import optiform
from optiform.answers.check import check
from optiform.answers.design import design
from tests.program.samples import wash
ask, brief = {"check": check, "design": design}[sys.argv[1]], sys.argv[2]
first, more = int(sys.argv[3]), int(sys.argv[4])
def resident():
    gc.collect()
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
asked = wash(targets={"active matter": {"at_least": 12}}) if brief == "wash" else optiform.load_brief(brief)
for number in range(first + more):
    if number == first:
        before = resident()
    assert ask(asked).status == "solved"
print(resident() - before)
"""
NETTLE = "problems/nettle-gel-oily-skin/brief.toml"


def growth(question: str, brief: str, first: int, more: int) -> float:
    """Return how much memory a process takes for further questions after some, in MB.

    The C library keeps a heap for each of several threads, and which thread meets which heap is luck: 20 designs read
    0 to 3 MB by that alone, and 800 no more than 4. With one heap for all what is read is what is held.
    """
    ended = subprocess.run(
        [sys.executable, "-c", MEASURED, question, brief, str(first), str(more)],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "MALLOC_ARENA_MAX": "1"},
    )
    return float(ended.stdout)


def test_a_solver_goes_with_its_session():
    """At once, by counting references: the solver asks Python things, and must not hold who holds it."""
    session = Session(build(wash(targets={"active matter": {"at_least": 12}})).form)
    assert session.solve().status == "solved"
    gone = weakref.ref(session)
    gc.disable()
    try:
        del session
        assert gone() is None
    finally:
        gc.enable()


linux = pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="reads /proc")


@linux
@pytest.mark.parametrize(("question", "brief", "more"), [("check", "wash", 60), ("design", "wash", 20)])
def test_a_few_dozen_questions_more_take_no_more_memory(question, brief, more):
    assert growth(question, brief, 30, more) < 2.0


@linux
@pytest.mark.slow
@pytest.mark.parametrize("question", ["check", "design"])
def test_a_thousand_questions_take_no_more_memory_than_a_few(question):
    assert growth(question, NETTLE, 20, 1000) < 20.0


MOVED = """\
import gc, os, sys
import optiform
from optiform.answers.live import Bound, LiveBrief
from optiform.program import Key
def resident():
    gc.collect()
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
live = LiveBrief(optiform.load_brief(sys.argv[1]))
for number in range(int(sys.argv[2]) + int(sys.argv[3])):
    if number == int(sys.argv[2]):
        before = resident()
    assert live.move(Bound(Key("targets", ("mildness",), "at_least"), 60.0 + number % 7 / 2)).brief is live.brief
    assert live.proven().proven
print(resident() - before)
"""


@linux
@pytest.mark.slow
def test_two_hundred_moves_of_a_wish_take_no_more_memory_than_a_few():
    ended = subprocess.run(
        [sys.executable, "-c", MOVED, NETTLE, "30", "200"],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "MALLOC_ARENA_MAX": "1"},
    )
    assert float(ended.stdout) < 8.0
