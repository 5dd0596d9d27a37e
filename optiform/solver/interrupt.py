"""Stops a long solve: the solver asks in a callback while it branches, and keeps the best so far."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import highspy

from optiform.solver.clock import NO_LIMIT, Clock
from optiform.stopping import later


@dataclass(eq=False)
class StopCheck:
    """What a solver asks at each callback to learn whether it should stop.

    The solver keeps this object for as long as it lives itself, and nothing sees that it does: whoever holds the
    solver must not be held by this object, or neither is ever freed.

    Attributes
    ----------
    clock : Clock
        Stops it once its time is over, sooner than the solver's own time limit where the user asked it to stop.
    stopped_by_user : bool
        Whether a signal was why it stopped.
    """

    clock: Clock = NO_LIMIT
    stopped_by_user: bool = False
    _came: threading.Event | None = None

    def enough(self) -> bool:
        """Tell whether to stop: the user says so, or the time is over."""
        if self.clock.interrupted() or (self._came is not None and self._came.is_set()):
            self.stopped_by_user = True
            return True
        return self.clock.over()

    @contextlib.contextmanager
    def listening(self) -> Iterator[None]:
        """Let a signal wait until the solver has seen it: nothing may be raised while it asks."""
        with later() as self._came:
            yield
        self._came = None

    def attend(self, highs: Any) -> None:
        """Let a solver ask this while it branches."""

        def asked(kind: Any, message: str, data_out: Any, data_in: Any, user_data: Any) -> None:
            if kind == highspy.cb.HighsCallbackType.kCallbackMipInterrupt:
                data_in.user_interrupt = self.enough()

        highs.setCallback(asked, None)
        highs.startCallback(highspy.cb.HighsCallbackType.kCallbackMipInterrupt)
