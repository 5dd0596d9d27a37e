"""Ctrl-C and SIGTERM at many moments of every long command: exit 4, whole files, a word on stderr, no traceback.

Every run is a process of its own that sends itself the signal at a named step of its work, so that nothing here
depends on how fast a machine is.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.answers.rework.today import STARTER_TODAY

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")

ROOT = Path(__file__).parents[1]
PLAN = """\
title = "Spring"
[[make]]
title = "Nettle gel"
formula = "today.csv"
batch = "5kg"
"""

RUNNER = """\
import importlib, os, signal, sys
place, name, nth, number = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
for each in (signal.SIGINT, signal.SIGTERM):
    signal.signal(each, signal.default_int_handler if each == signal.SIGINT else signal.SIG_DFL)
words = sys.argv[5:]
from optiform import stopping
from optiform.cli import main
stopping.PATIENCE = 600.0
import optiform.cli.entry
owner = importlib.import_module(place.partition(":")[0])
for part in filter(None, place.partition(":")[2].split(".")):
    owner = getattr(owner, part)
usual, calls = getattr(owner, name), [0]
def instead(*given, **named):
    calls[0] += 1
    if calls[0] == nth:
        os.kill(os.getpid(), number)
    return usual(*given, **named)
setattr(owner, name, instead)
code = main(words)
print(f"reached {calls[0] >= nth}", file=sys.stderr)
sys.exit(code)
"""
"""Sends itself a signal when a function is called for the n-th time; nothing here hangs, so that nothing has to be
ended from beside, however busy the machine is."""

READING = ("optiform.library.files.csv_tables", "table_of", 2)
SOLVING = ("optiform.solver.session:Session", "solve", 3)
MEASURING = ("optiform.measures.measure:Measure", "value", 5)
SHOWING = ("optiform.views.output", "_bytes", 1)
WRITING = ("os", "fsync", 1)

QUESTIONS = {
    "design": ("design", "wash.toml"),
    "check": ("check", "wash.toml"),
    "why": ("why", "wash.toml", "decyl-glucoside"),
    "reformulate": ("reformulate", "--from", "today.csv", "--aim", "cheaper"),
    "tradeoff": ("tradeoff", "wash.toml"),
}
OTHERS = {
    "evaluate": ("evaluate", "today.csv"),
    "weigh": ("weigh", "today.csv", "--batch", "250g"),
    "lot": ("lot", "today.csv", "--material", "cocamidopropyl-betaine-38", "--active", "36.5"),
    "bench": ("bench", "today.csv", "--batch", "500g", "--add", "citric-acid=3.6g@10", "--pH", "5.1"),
    "sheet": ("sheet", "today.csv", "--batch", "2kg"),
    "shop": ("shop", "spring.toml"),
    "recost": ("recost", "products", "--prices", "new.csv", "--workers", "1"),
}


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A folder with a brief, a formula, a plan and a folder of products, on the starter library."""
    desk = tmp_path_factory.mktemp("desk")
    shutil.copy(ROOT / "problems" / "nettle-gel-oily-skin" / "brief.toml", desk / "wash.toml")
    today = "material,percent\n" + "\n".join(f"{name},{percent}" for name, percent in STARTER_TODAY) + "\n"
    (desk / "today.csv").write_text(today)
    (desk / "spring.toml").write_text(PLAN)
    (desk / "products").mkdir()
    for name in ("wash.toml", "today.csv"):
        shutil.copy(desk / name, desk / "products" / name)
    (desk / "new.csv").write_text("material,price\ndecyl-glucoside,9.00\n")
    return desk


def stopped(desk, words, moment, number=signal.SIGINT):
    """Run a command that gets a signal at a moment, and return how it ended."""
    place, name, nth = moment
    ended = subprocess.run(
        [sys.executable, "-c", RUNNER, place, name, str(nth), str(int(number)), *words],
        cwd=desk,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert "Traceback" not in ended.stderr
    return ended


@pytest.mark.parametrize(
    ("moment", "number"),
    [
        pytest.param(READING, signal.SIGTERM, id="reading-sigterm"),
        pytest.param(READING, signal.SIGINT, id="reading-ctrl-c", marks=pytest.mark.slow),
        pytest.param(SHOWING, signal.SIGINT, id="showing-ctrl-c"),
        pytest.param(SHOWING, signal.SIGTERM, id="showing-sigterm", marks=pytest.mark.slow),
        pytest.param(WRITING, signal.SIGTERM, id="writing-sigterm"),
        pytest.param(WRITING, signal.SIGINT, id="writing-ctrl-c"),
    ],
)
def test_a_stop_outside_the_solver(desk, tmp_path, moment, number):
    """Before the solver works nothing is known; while the result is written, the file is whole."""
    out = tmp_path / "out.json"
    ended = stopped(desk, ("check", "wash.toml", "--format", "json", "--out", str(out)), moment, number)
    assert ended.returncode == 4, ended.stderr
    assert ended.stderr.startswith("Stopped")
    assert [path.name for path in tmp_path.iterdir()] == (["out.json"] if moment is WRITING else [])
    if moment is WRITING:
        assert json.loads(out.read_text())["question"] == "check"
        assert f"Written: {out}." in ended.stderr


@pytest.mark.parametrize("command", QUESTIONS)
def test_a_question_that_is_stopped_while_it_is_solved_answers_with_what_it_has(desk, command):
    """The first signal is polite: the answer comes, and says of itself that it is no whole one."""
    ended = stopped(desk, (*QUESTIONS[command], "--format", "json"), SOLVING, signal.SIGTERM)
    assert ended.returncode == 4, ended.stderr
    assert ended.stderr.startswith("Stopped")
    found = json.loads(ended.stdout)
    assert (found["status"], found["proven"]) == ("stopped", False)
    assert found["notes"][0].startswith("Stopped early")


ALIKE = ("weigh", "lot", "bench")
"""They are stopped where `sheet` is: while the result is put into words."""


@pytest.mark.parametrize(
    "command", [pytest.param(name, marks=pytest.mark.slow) if name in ALIKE else name for name in OTHERS]
)
def test_every_other_long_command_ends_at_once(desk, command):
    """Whatever it is at: nothing half-done is shown."""
    moment = {
        "evaluate": MEASURING,
        "shop": ("optiform.sheets.purchase.plan:Plan", "shopping", 1),
        "recost": SOLVING,
    }.get(command, SHOWING)
    ended = stopped(desk, (*OTHERS[command], "--format", "json"), moment)
    assert (ended.returncode, ended.stdout) == (4, ""), ended.stderr
    assert ended.stderr.startswith("Stopped")


DEAF = """\
import os, signal, sys, time
signal.signal(signal.SIGTERM, signal.SIG_DFL)
from optiform import stopping
from optiform.cli import main
from optiform.solver import Session
def deaf(*given, **named):
    stopping.reached("formula 2 of 5 found")
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(6000)
Session.solve = deaf
sys.exit(main(["check", "wash.toml", "--out", sys.argv[1]]))
"""


def test_a_solver_that_hears_nothing_is_ended_from_beside(desk, tmp_path):
    """Stands for a long step of the solver in which it does not look up."""
    ended = subprocess.run(
        [sys.executable, "-c", DEAF, str(tmp_path / "out.txt")],
        cwd=desk,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert (ended.returncode, ended.stdout) == (4, ""), ended.stderr
    assert ended.stderr == "Stopped (formula 2 of 5 found).\n"
    assert list(tmp_path.iterdir()) == []


def test_what_the_parent_had_ignored_stays_ignored(desk):
    """As a shell does with Ctrl-C for what it starts in the background."""
    code = RUNNER.replace(
        "signal.default_int_handler if each == signal.SIGINT else signal.SIG_DFL", "signal.SIG_IGN"
    )
    words = (*SHOWING[:2], "1", str(int(signal.SIGINT)), "library", "list", "--format", "json")
    ended = subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=desk,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert (ended.returncode, ended.stderr) == (0, "reached True\n")
    assert json.loads(ended.stdout)


LATE = """\
import atexit, os, signal, sys
from optiform.cli import program
for each in (signal.SIGINT, signal.SIGTERM):
    atexit.register(os.kill, os.getpid(), each)
sys.argv[1:] = ["library", "list", "--format", "json"]
sys.exit(program())
"""


def test_a_signal_after_the_result_changes_nothing():
    """While Python takes itself down the result is out, and the exit code that goes with it is decided."""
    ended = subprocess.run(
        [sys.executable, "-c", LATE],
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert (ended.returncode, ended.stderr) == (0, "")
    assert json.loads(ended.stdout)


IMPORTING = """\
import os, signal, sys
signal.signal(signal.SIGTERM, signal.SIG_DFL)
class Sending:
    def __set_name__(self, owner, name):
        os.kill(os.getpid(), signal.SIGTERM)
import optiform.cli.entry
from optiform.answers import evaluate as question
def ask(*given, **named):
    type("Late", (), {"it": Sending()})
question.evaluate = ask
from optiform.cli import program
sys.argv[1:] = ["evaluate", "today.csv"]
sys.exit(program())
"""


def test_a_stop_that_python_makes_another_error_of_is_a_stop(desk):
    """What is raised while a class is made or a module is loaded comes out as another error."""
    ended = subprocess.run(
        [sys.executable, "-c", IMPORTING],
        cwd=desk,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert (ended.returncode, ended.stdout, ended.stderr) == (4, "", "Stopped.\n")
