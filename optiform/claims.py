"""Guards the places that a run will write to: no two results in one, and none on a file that is read."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path

from optiform.faults import BadInput, Fault, Faults

ALLOWED = "a place that can be written to"
FORCE = "another name, or --force to replace it"


_claimed: ContextVar[dict[Path, str] | None] = ContextVar("claimed", default=None)
"""Where this run will write to, by the option that named the place."""


@contextlib.contextmanager
def claims_of_a_run() -> Iterator[None]:
    """Keep account of the places that are claimed meanwhile."""
    token = _claimed.set({})
    try:
        yield
    finally:
        _claimed.reset(token)


def claim(path: Path, option: str) -> None:
    """Set a place aside for a result of this run.

    Raises
    ------
    BadInput
        If another result goes there already.
    """
    claimed = _claimed.get()
    if claimed is None:
        return
    other = claimed_by(path)
    if other:
        message = f"{other} names the same file"
        raise BadInput([Fault(str(path), option, message, allowed="a file for each result")])
    claimed[path] = option


def claimed_by(path: Path) -> str:
    """Return the option by which this run will write to a file; empty if none will."""
    return next((option for place, option in (_claimed.get() or {}).items() if _same(place, path)), "")


def overwritten(path: Path, faults: Faults) -> bool:
    """Tell whether a file that is about to be read is to be overwritten by this run, and note that as a fault.

    Every reader asks this first: a result is never written onto what it comes from.
    """
    option = claimed_by(path)
    if option:
        message = f"this is read, and {option} would write over it"
        faults.add("", message, allowed=f"another name after {option}", file=path)
    return bool(option)


def _same(one: Path, other: Path) -> bool:
    """Tell whether two paths are one file, also by links, and also where it is not there yet."""
    try:
        return behind_links(one) == behind_links(other) or one.samefile(other)
    except (OSError, ValueError):
        return False


def behind_links(path: Path) -> Path:
    """Return where a file really stands: a link stays a link when what it points to is replaced."""
    return Path(os.path.realpath(path))
