"""Results kept line by line as they come, so that a run that was killed goes on where it was."""

from __future__ import annotations

import json
import os
from dataclasses import asdict
from pathlib import Path
from typing import Any

from optiform.answers.recost.one import Recosted
from optiform.faults import BadInput, Fault


class Journal:
    """A file of finished results, one JSON object a line; each line is whole or not there.

    Parameters
    ----------
    path : Path
        Created when missing. A last line that a kill cut short is passed over and overwritten.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.finished: dict[str, Recosted] = {}
        self._end = 0
        if path.exists():
            self._read()

    def _read(self) -> None:
        content = self.path.read_bytes()
        for number, line in enumerate(content.splitlines(keepends=True), 1):
            if not line.endswith(b"\n"):
                break
            result = _parsed(line)
            if result is None:
                message = "is no line of a recost journal"
                raise BadInput(
                    [Fault(str(self.path), f"line {number}", message, "a journal that recost wrote")]
                )
            self.finished[result.key] = result
            self._end += len(line)

    def add(self, result: Recosted) -> None:
        """Append one result and wait until it is on the disk."""
        line = json.dumps(asdict(result), ensure_ascii=False, sort_keys=True) + "\n"
        mode = "r+b" if self.path.exists() else "w+b"
        with self.path.open(mode) as file:
            file.seek(self._end)
            file.truncate()
            file.write(line.encode())
            file.flush()
            os.fsync(file.fileno())
            self._end = file.tell()
        self.finished[result.key] = result


def _parsed(line: bytes) -> Recosted | None:
    try:
        fields: dict[str, Any] = json.loads(line)
        fields["changes"] = tuple((str(m), float(a), float(b)) for m, a, b in fields["changes"])
        for name in ("structure_before", "structure_after", "faults"):
            fields[name] = tuple(fields[name])
        return Recosted(**fields)
    except (ValueError, TypeError, KeyError):
        return None
