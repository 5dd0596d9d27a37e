"""Holds the time limit of a question, its listener, and whether the user has asked it to stop."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

from optiform.stopping import interrupted

Progress = Callable[[str], None]
"""Takes one short line at each step of long work."""


class OutOfTime(Exception):
    """The time is over before an answer is known."""


@dataclass(frozen=True)
class Clock:
    """The time limit and the listener of one question, made once and handed down to every solve.

    Attributes
    ----------
    deadline : float, optional
        Moment on `time.monotonic` [s] at which the time is over, infinite for a question without a limit; absent
        for work that must be finished, such as the check of a formula that is going to be shown.
    progress : callable, optional
        Takes one short line at each step of long work.
    given_up : callable, optional
        Asked whether nobody waits for the answer any more; the question then stops as if the user had said so.
    """

    deadline: float | None = None
    progress: Progress | None = None
    given_up: Callable[[], bool] | None = None

    @classmethod
    def of(cls, seconds: float | None, progress: Progress | None = None) -> Clock:
        """Start a clock that gives a question some seconds from now; None: as many as it takes."""
        return cls(math.inf if seconds is None else time.monotonic() + seconds, progress)

    def left(self) -> float:
        """Return the time left [s]: infinite without a limit, none once the user asked a question to stop."""
        if self.deadline is None:
            return math.inf
        return 0.0 if self.interrupted() else self.deadline - time.monotonic()

    def over(self) -> bool:
        """Tell whether a question should come to its end: its time has passed, or the user asked it to stop."""
        return self.left() <= 0

    def interrupted(self) -> bool:
        """Tell whether the user asked this run to stop, or nobody waits for this answer any more."""
        return interrupted() or (self.given_up is not None and self.given_up())

    def say(self, words: str) -> None:
        """Tell the listener, if there is one, how far the work is."""
        if self.progress is not None:
            self.progress(words)


NO_LIMIT = Clock()
"""For work that must be finished: no deadline and no listener, and a stop cuts short only the branching in a solve."""
