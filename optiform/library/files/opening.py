"""Opens every file that is read: a regular file of a sane size, or a fault."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from optiform.claims import overwritten
from optiform.faults import Faults, nearest

TABLE_BYTES = 64_000_000
"""Most bytes of a table: CSV, workbook, the JSON of an answer, a journal."""

KEYS_BYTES = 4_000_000
"""Most bytes of a TOML file."""

ROWS = 1_000_000
"""Most rows of a table."""

BESIDE = 1_000
"""Files of a folder among which one is looked for that was meant by a missing one."""

WITHOUT_WAITING = (
    os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
)
KINDS = ((stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a named pipe"), (stat.S_ISSOCK, "a socket"))


def read_bytes(path: Path, faults: Faults, *, most: int, allowed: str) -> bytes | None:
    """Return what a file holds, or None after noting why it cannot be read.

    Refused are a missing file, one without permission, a name that no file can have, a folder, a pipe, a device (also
    behind a link), a file that this run is to write over, and one that is larger than `most` or grows while it is read.
    """
    if overwritten(path, faults):
        return None
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):
            what = next((words for test, words in KINDS if test(mode)), "a device")
            faults.add("", f"this is {what}, not a file", allowed=allowed, file=path)
            return None
        with os.fdopen(os.open(path, WITHOUT_WAITING), "rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            data = stream.read(most + 1) if size <= most else b""
    except (OSError, ValueError) as error:
        said = f"cannot be read ({reason(error)})"
        faults.add("", said, allowed=allowed, nearest=_meant(path, error), file=path)
        return None
    if max(size, len(data)) > most:
        said = f"{size / 1e6:,.0f} MB is too large" if size > most else "it grows while it is read"
        faults.add("", said, allowed=f"{allowed}, up to {most / 1e6:.0f} MB", file=path)
        return None
    return data


def _meant(path: Path, error: OSError | ValueError) -> str:
    """Return the file of the same kind, in the same folder, whose name is most like that of a missing one."""
    if not isinstance(error, FileNotFoundError):
        return ""
    beside = sorted(
        Path(name).stem for name in names_in(path.parent) or () if Path(name).suffix == path.suffix
    )
    found = nearest(path.stem, beside[:BESIDE])
    return str(path.with_name(f"{found}{path.suffix}")) if found else ""


def read_text(path: Path, faults: Faults, *, most: int, allowed: str) -> str | None:
    """Return the UTF-8 text of a file, or None after noting why it cannot be read; see `read_bytes`."""
    data = read_bytes(path, faults, most=most, allowed=allowed)
    if data is None:
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        faults.add(f"line {row}", f"byte 0x{data[error.start]:02X} is not UTF-8", allowed=allowed, file=path)
        return None


def reason(error: OSError | ValueError) -> str:
    """Return why the system refused a file, in its own words."""
    if isinstance(error, UnicodeError):
        return "the name is no text in UTF-8"
    if isinstance(error, ValueError):
        return "a NUL character in the name"
    return error.strerror or str(error)


def is_file(path: Path) -> bool:
    """Tell whether there is a regular file; a name that no file can have is none."""
    return stat.S_ISREG(_mode(path))


def names_in(path: Path) -> frozenset[str] | None:
    """Return the names in a folder, or None where there is no folder that can be looked into."""
    try:
        return frozenset(entry.name for entry in path.iterdir())
    except (OSError, ValueError):
        return None


def is_folder(path: Path) -> bool:
    """Tell whether there is a folder; a name that no folder can have is none."""
    return stat.S_ISDIR(_mode(path))


def _mode(path: Path) -> int:
    try:
        return path.stat().st_mode
    except (OSError, ValueError):
        return 0
