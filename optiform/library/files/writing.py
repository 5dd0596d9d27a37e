"""Writes files that are whole or not there, whatever interrupts their writing."""

from __future__ import annotations

import contextlib
import io
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from optiform.claims import ALLOWED, FORCE, behind_links
from optiform.faults import BadInput, Fault
from optiform.stopping import finished, writing


def write_whole(path: Path, content: bytes, *, replace: bool = True, place: str = "") -> None:
    """Write one file in one step; see `write_together`."""
    write_together({path: content}, replace=replace, place=place)


def write_together(contents: Mapping[Path, bytes], *, replace: bool = True, place: str = "") -> None:
    """Write files in one step: all of them beside their places first, then each in its place.

    A signal waits until all is done. What fails before that leaves every file as it was.

    Parameters
    ----------
    replace : bool
        Whether files of these names may be there already.
    place : str
        What is named beside the file where it cannot be written, e.g. an option.

    Raises
    ------
    BadInput
        If one cannot be written, or is there and not to be replaced.
    """
    path = next(iter(contents))
    beside: dict[Path, Path] = {}
    backs: dict[Path, Path] = {}
    done: list[Path] = []
    with writing():
        try:
            for path, content in contents.items():
                beside[path] = _beside(path, content)
            for path in list(contents)[:-1]:
                if path.exists():
                    backs[path] = _beside(path, path.read_bytes())
            for path in contents:
                _put(beside[path], path, replace=replace)
                done.append(path)
        except OSError as error:
            _put_back(done, backs)
            message, allowed = f"cannot be written ({error.strerror or error})", ALLOWED
            if isinstance(error, FileExistsError):
                message, allowed = "this file exists already", FORCE
            raise BadInput([Fault(str(path), place, message, allowed)]) from None
        finally:
            for rest in (*beside.values(), *backs.values()):
                rest.unlink(missing_ok=True)
        finished(contents)


def _beside(path: Path, content: bytes) -> Path:
    """Write bytes into a new file of the same folder and return it; it is on the disk, or not there."""
    place = behind_links(path)
    descriptor, name = tempfile.mkstemp(dir=place.parent, prefix=".optiform-")
    try:
        with os.fdopen(descriptor, "wb", buffering=0) as stream:
            _put_all(stream, content)
        Path(name).chmod(_usual_mode(place))
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _put_all(stream: io.FileIO, content: bytes) -> None:
    """Write all bytes and wait until they are on the disk."""
    left = memoryview(content)
    while left:
        left = left[stream.write(left) :]
    os.fsync(stream.fileno())


def _put(beside: Path, path: Path, *, replace: bool) -> None:
    """Give a file its name; if it is not to replace another, only while no other has it, also where two runs race."""
    place = behind_links(path)
    if replace:
        beside.replace(place)
        return
    try:
        os.link(beside, place)
    except FileExistsError:
        raise
    except OSError:
        if place.exists():
            raise FileExistsError(place) from None
        beside.replace(place)


def _put_back(changed: list[Path], backs: dict[Path, Path]) -> None:
    """Let files be as they were: this takes no room on the disk."""
    for path in changed:
        with contextlib.suppress(OSError):
            if path in backs:
                backs.pop(path).replace(behind_links(path))
            else:
                path.unlink()


def append_whole(stream: io.FileIO, content: bytes) -> None:
    """Append bytes to a file that is open without a buffer: all of them and on the disk, or none.

    Raises
    ------
    OSError
        If they cannot be written; the file is as it was.
    """
    start = stream.tell()
    with writing():
        try:
            stream.truncate()
            _put_all(stream, content)
        except OSError:
            with contextlib.suppress(OSError):
                stream.truncate(start)
            stream.seek(start)
            raise


def _usual_mode(path: Path) -> int:
    """Return the permissions that a file of this name has or would have; a temporary one is private."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
