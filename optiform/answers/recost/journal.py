"""Keeps results line by line as they come, so that a run that was killed goes on where it was."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from optiform.answers.recost.one import Recosted, from_text, to_text
from optiform.claims import claim
from optiform.faults import BadInput, Fault
from optiform.library.files.opening import TABLE_BYTES, reason
from optiform.library.files.writing import append_whole

ALLOWED = "a journal that recost wrote, or a new file"
BEGINNING = b'{"breaks": ['
"""With these letters every line begins, also one that a kill cut short."""


class Journal:
    """A file of finished results, one JSON object a line; each line is whole or not there.

    Parameters
    ----------
    path : Path
        Created when missing. A last line that a kill cut short is passed over and overwritten.

    Raises
    ------
    BadInput
        If the file is no journal, cannot be written, or another run is writing it.

    Notes
    -----
    Use it as a context; while it is open, no second run can write to it (where the system has file locks).
    """

    def __init__(self, path: Path) -> None:
        claim(path, "--journal")
        self.path = path
        self.finished: dict[str, Recosted] = {}
        try:
            if path.exists() and (not path.is_file() or path.stat().st_size > TABLE_BYTES):
                raise self._fault("", "is no file, or one too large")
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
            self._file = os.fdopen(descriptor, "r+b", buffering=0)
        except (OSError, ValueError) as error:
            raise self._fault("", f"cannot be written ({reason(error)})") from None
        try:
            self._lock()
            self._read()
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        """Hand out the journal itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let the file go."""
        with contextlib.suppress(OSError):
            self._file.close()

    def _lock(self) -> None:
        try:
            import fcntl
        except ImportError:
            return
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise self._fault("", "another run is writing this journal") from None
        except OSError:  # some network folders have no locks
            return

    def _read(self) -> None:
        end = 0
        for number, line in enumerate(self._file.readall().splitlines(keepends=True), 1):
            if not line.endswith(b"\n"):
                if line[: len(BEGINNING)] != BEGINNING[: len(line)]:
                    raise self._fault(f"line {number}", "is no line of a recost journal")
                break
            result = from_text(line)
            if result is None:
                raise self._fault(f"line {number}", "is no line of a recost journal")
            self.finished[result.key] = result
            end += len(line)
        self._file.seek(end)

    def add(self, result: Recosted) -> None:
        """Append one result and wait until it is on the disk; what this program failed at is not believed later.

        Raises
        ------
        BadInput
            If the line cannot be written; then nothing of it stays.
        """
        if result.outcome == "failed":
            return
        line = to_text(result) + "\n"
        try:
            append_whole(self._file, line.encode("ascii"))
        except OSError as error:
            raise self._fault("", f"cannot be written ({error.strerror or error})") from None
        self.finished[result.key] = result

    def _fault(self, place: str, message: str) -> BadInput:
        return BadInput([Fault(str(self.path), place or "--journal", message, ALLOWED)])
