"""Turns Ctrl-C and SIGTERM into a polite stop, a sure one soon after, and never one in the middle of a file."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

SIGNALS = (signal.SIGINT, signal.SIGTERM)
EXIT_CODE = 4
PATIENCE = 1.5
"""Seconds between a signal and the end of the process, whatever the solver is doing then."""

FILES = 9
"""Files named after a stop; a run writes three at most."""

_interrupted = threading.Event()
_raised = threading.Event()
_writing = threading.RLock()


class Stopped(BaseException):
    """The user, or the system, asked this run to end. Nothing but the command line catches it."""


def interrupted() -> bool:
    """Tell whether the user asked to stop since `polite`."""
    return _interrupted.is_set()


@dataclass
class SoFar:
    """How far a run has come, in words: its last step, the files that are whole, what can be done after a stop."""

    step: str = ""
    files: list[str] = field(default_factory=list)
    afterwards: str = ""

    def clear(self) -> None:
        """Begin a new run."""
        self.step, self.files, self.afterwards = "", [], ""

    def __str__(self) -> str:
        step = f"Stopped ({self.step})." if self.step else "Stopped."
        files = f"Written: {', '.join(self.files)}." if self.files else ""
        return " ".join(part for part in (step, files, self.afterwards) if part)


_so_far = SoFar()


def reached(step: str) -> None:
    """Note how far this run has come."""
    _so_far.step = step


def finished(files: Iterable[Path]) -> None:
    """Note files that are whole on the disk."""
    _so_far.files = [*_so_far.files, *map(str, files)][-FILES:]


def afterwards(sentence: str) -> None:
    """Note what the user can do after a stop."""
    _so_far.afterwards = sentence


def so_far() -> str:
    """Return what is known of a run that was stopped."""
    return str(_so_far)


def ignore() -> None:
    """Let no signal count any more: all is done, and only the process is left to end."""
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)


@contextlib.contextmanager
def _handling(handler: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """Handle both signals in a way of our own for a while; what the parent process had ignored stays so.

    Works in the main thread only, where signals arrive; elsewhere it does nothing.
    """
    before = {}
    if threading.current_thread() is threading.main_thread():
        before = {number: signal.getsignal(number) for number in SIGNALS}
    ours = [number for number, handled in before.items() if handled is not signal.SIG_IGN]
    for number in ours:
        signal.signal(number, handler)
    try:
        yield
    finally:
        for number in ours:
            signal.signal(number, before[number] or signal.SIG_DFL)


@contextlib.contextmanager
def later() -> Iterator[threading.Event]:
    """Hold both signals back until a short piece of work is done; then they count as usual.

    Yields
    ------
    threading.Event
        Set as soon as one has come.
    """
    came, numbers = threading.Event(), set[int]()

    def note(number: int, frame: FrameType | None) -> None:
        came.set()
        numbers.add(number)

    try:
        with _handling(note):
            yield came
    finally:
        for number in sorted(numbers):
            signal.raise_signal(number)


@contextlib.contextmanager
def writing() -> Iterator[None]:
    """Hold back whatever would end this process, until a file is whole."""
    with later(), _writing:
        yield


@contextlib.contextmanager
def polite() -> Iterator[None]:
    """Turn the first signal into a polite stop, which the solver sees; a second one counts as usual."""
    usual = {number: signal.getsignal(number) for number in SIGNALS}

    def first(number: int, frame: FrameType | None) -> None:
        _interrupted.set()
        for each in SIGNALS:
            if signal.getsignal(each) is first:
                signal.signal(each, usual[each] or signal.SIG_DFL)

    _interrupted.clear()
    with _handling(first):
        yield


@contextlib.contextmanager
def ending() -> Iterator[None]:
    """Let both signals end a run: at once where Python works, and within `PATIENCE` where the solver does.

    Raises
    ------
    Stopped
        Wherever the main thread is when a signal arrives, except in `later`, `writing` and `polite`.
    """

    def stop(number: int, frame: FrameType | None) -> None:
        _raised.set()
        raise Stopped

    def unraisable(found: sys.UnraisableHookArgs) -> None:
        if not isinstance(found.exc_value, Stopped):
            usual(found)

    _so_far.clear()
    _raised.clear()
    usual, sys.unraisablehook = sys.unraisablehook, unraisable
    try:
        with _handling(stop), _watched():
            yield
    except Exception:
        raise_again()
        raise
    finally:
        sys.unraisablehook = usual


def raise_again() -> None:
    """Raise `Stopped` where it was raised already and came out as another error: an import makes others of it."""
    if _raised.is_set():
        raise Stopped


@contextlib.contextmanager
def _watched() -> Iterator[None]:
    """Watch from a thread for signals, also while the main thread is inside the solver and hears none."""
    if sys.platform == "win32" or threading.current_thread() is not threading.main_thread():
        yield
        return
    ended = threading.Event()
    reading, telling = os.pipe()
    os.set_blocking(telling, False)
    watcher = threading.Thread(target=_watch, args=(reading, ended), daemon=True)
    watcher.start()
    before = signal.set_wakeup_fd(telling, warn_on_full_buffer=False)
    try:
        yield
    finally:
        signal.set_wakeup_fd(before)
        ended.set()
        os.close(telling)
        watcher.join()


def _watch(reading: int, ended: threading.Event) -> None:
    """End the process some time after a signal, unless it ends by itself or has a file to finish."""
    try:
        while came := os.read(reading, 1):
            if came[0] not in SIGNALS or signal.getsignal(came[0]) is signal.SIG_IGN or ended.wait(PATIENCE):
                continue
            with _writing:
                if not ended.is_set():
                    with contextlib.suppress(OSError):
                        os.write(2, f"{so_far()}\n".encode("utf-8", "replace"))
                    os._exit(EXIT_CODE)
    finally:
        os.close(reading)
