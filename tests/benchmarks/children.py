"""Runs commands in processes of their own and measures them whole: time by the clock, and the most memory.

The memory that the system reports for a child begins with that of its parent, so whoever starts
children here must be small itself: this module imports the standard library alone, and libraries
are made in children too.
"""

from __future__ import annotations

import contextlib
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Run:
    """What a child came to.

    Attributes
    ----------
    seconds : float
        From its start to its end, by the clock.
    processor : float
        Processor time of it and its children, seconds.
    memory : int
        The most that it, or a child of its own, held at once, bytes; never less than what this process held
        when it started the child.
    code : int
        Its exit code.
    capped : bool
        Whether it was ended because its time was up.
    """

    seconds: float
    processor: float
    memory: int
    code: int
    capped: bool
    out: str = field(repr=False)
    err: str = field(repr=False)


class Failed(AssertionError):
    """A child did not do what it was started for."""


def run(words: Sequence[str], limit: float = 120.0) -> Run:
    """Run a command with this Python's environment, and end it and its children after so many seconds.

    Parameters
    ----------
    words : sequence of str
        The command; a leading "python" means this interpreter.
    limit : float  [s]
    """
    command = [sys.executable, *words[1:]] if words[0] == "python" else list(words)
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        begun = time.perf_counter()
        child = subprocess.Popen(
            command,
            cwd=ROOT,
            env=kept,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=err,
            start_new_session=True,
        )
        up = threading.Event()
        timer = threading.Timer(limit, _end, (child.pid, up))
        timer.start()
        _, status, usage = os.wait4(child.pid, 0)
        seconds = time.perf_counter() - begun
        timer.cancel()
        child.returncode = os.waitstatus_to_exitcode(status)
        return Run(
            seconds,
            usage.ru_utime + usage.ru_stime,
            usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024),
            child.returncode,
            up.is_set() and child.returncode != 0,
            _all_of(out),
            _all_of(err),
        )


def done(words: Sequence[str], limit: float = 120.0, codes: Sequence[int] = (0,)) -> Run:
    """Run a command that must succeed.

    Raises
    ------
    Failed
        If it was ended early, or came back with another code.
    """
    found = run(words, limit)
    if found.capped:
        raise Failed(f"{' '.join(words)}: not done after {limit:.0f} s")
    if found.code not in codes:
        raise Failed(f"{' '.join(words)}: code {found.code}\n{found.err[-2000:]}")
    return found


def medians(
    commands: dict[str, Sequence[str]], times: int = 5, codes: Sequence[int] = (0, 3)
) -> dict[str, float]:
    """Return the median processor time of short commands [s], taken in turns after one warm-up of each."""
    for words in commands.values():
        done(words, codes=codes)
    seconds: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(times):
        for name, words in commands.items():
            seconds[name].append(done(words, codes=codes).processor)
    return {name: statistics.median(taken) for name, taken in seconds.items()}


def _end(pid: int, up: threading.Event) -> None:
    """End a child and its own children at once: solvers may not listen to anything gentler."""
    up.set()
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)


def _all_of(file) -> str:
    file.seek(0)
    return file.read().decode("utf-8", errors="replace")
