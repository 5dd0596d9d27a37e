"""Files that are whole or not there, whatever interrupts their writing."""

from __future__ import annotations

import contextlib
import os
import signal
import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType


@contextlib.contextmanager
def uninterrupted() -> Iterator[None]:
    """Hold a Ctrl-C back until a short piece of work is done; then it counts as usual.

    Works in the main thread only, where signals arrive; elsewhere it does nothing.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came = threading.Event()

    def later(number: int, frame: FrameType | None) -> None:
        came.set()

    before = signal.signal(signal.SIGINT, later)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)
        if came.is_set():
            signal.raise_signal(signal.SIGINT)


def write_whole(path: Path, content: bytes, *, replace: bool = True) -> None:
    """Write a file in one step: beside it first, then in its place.

    Parameters
    ----------
    path : Path
    content : bytes
    replace : bool
        Whether a file of this name may be there already.

    Raises
    ------
    FileExistsError
        If there is one and it is not to be replaced.
    """
    with uninterrupted():
        descriptor, name = tempfile.mkstemp(dir=path.absolute().parent, prefix=f".{path.name}-")
        beside = Path(name)
        try:
            with os.fdopen(descriptor, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            beside.chmod(_usual_mode(path))
            if replace:
                beside.replace(path)
            else:
                _move_new(beside, path)
        finally:
            beside.unlink(missing_ok=True)


def _usual_mode(path: Path) -> int:
    """Return the permissions that a file of this name has or would have; a temporary one is private."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _move_new(beside: Path, path: Path) -> None:
    """Give a file its name only if no other file has it, also where two runs race."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise
    except OSError:
        if path.exists():
            raise FileExistsError(path) from None
        beside.replace(path)
