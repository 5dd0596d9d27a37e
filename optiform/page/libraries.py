"""A library that is read once, and again when one of its files says something else."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from pathlib import Path
from typing import TYPE_CHECKING

from optiform.library import load_library
from optiform.library.adding import starter_folder

if TYPE_CHECKING:
    from optiform.library import Library

KEPT = 4
"""Libraries that are kept; the one that was not asked for for longest goes first."""

_kept: OrderedDict[tuple[str, bytes], Library] = OrderedDict()
_lock = threading.Lock()


def remembered_library(path: str | Path | None = None) -> Library:
    """Return what `load_library` returns, the same value as last time where every byte of its files is the same.

    Raises
    ------
    BadInput
        As `load_library` does.
    """
    place = starter_folder() if path is None else Path(path)
    key = _key(place)
    with _lock:
        if key is not None and key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    found = load_library(path)
    if key is not None and _key(place) == key:
        with _lock:
            _kept[key] = found
            while len(_kept) > KEPT:
                _kept.popitem(last=False)
    return found


def _key(place: Path) -> tuple[str, bytes] | None:
    """Return a place with the hash of its files; None where they cannot be read."""
    told = hashlib.sha256()
    try:
        files = sorted(place.iterdir()) if place.is_dir() else [place, place.parent / "library.toml"]
        for file in files:
            if file.is_file():
                told.update(f"{file.name}\0{file.stat().st_size}\0".encode())
                told.update(file.read_bytes())
    except OSError:
        return None
    return str(place), told.digest()
