"""Ctrl-C during a long solve: the solver stops at its next look-up and keeps the best so far."""

from __future__ import annotations

import contextlib
import signal
import threading
from typing import TYPE_CHECKING, Any

import highspy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType

_pressed = threading.Event()


def pressed() -> bool:
    """Tell whether the user pressed Ctrl-C since `armed`."""
    return _pressed.is_set()


@contextlib.contextmanager
def armed() -> Iterator[None]:
    """Turn the first Ctrl-C into a polite stop; a second one ends the process as usual.

    Works in the main thread only, where signals arrive; elsewhere it does nothing. Afterwards
    signals are handled as before.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def first(number: int, frame: FrameType | None) -> None:
        _pressed.set()
        signal.signal(signal.SIGINT, signal.default_int_handler)

    _pressed.clear()
    before = signal.signal(signal.SIGINT, first)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def listen(highs: Any, enough: Callable[[], bool]) -> None:
    """Let a solver look up, while it branches, whether it should stop."""

    def look(kind: Any, message: str, data_out: Any, data_in: Any, user_data: Any) -> None:
        if kind == highspy.cb.HighsCallbackType.kCallbackMipInterrupt:
            data_in.user_interrupt = enough()

    highs.setCallback(look, None)
    highs.startCallback(highspy.cb.HighsCallbackType.kCallbackMipInterrupt)
