"""Lists what the folder holds by the content of each file, and keeps libraries until a byte of them changes."""

from __future__ import annotations

import hashlib
import os
import threading
import tomllib
from collections import OrderedDict
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from optiform.brief import Brief
from optiform.faults import Faults
from optiform.library import Library, load_library
from optiform.library.files.toml_file import parsed_toml
from optiform.library.reading import starter_folder
from optiform.page.folder import speakable, version_of
from optiform.page.records import SUFFIX
from optiform.trials.reading import READINGS, WEIGHED

Kind = Literal[
    "brief", "plan", "family", "trials", "unit", "formula", "prices", "shelf", "library", "batch", "misnamed", "other"
]  # fmt: skip
DEEPEST = 3
"""Folders below the folder that are looked into."""
MOST = 2000
"""Files that are looked at."""
BEGINNING = 4096
"""Bytes of a table that tell what it is."""
KEPT = 4
"""Libraries that are kept; the one that was not asked for for longest goes first."""

_kept: OrderedDict[tuple[str, bytes], Library] = OrderedDict()
_lock = threading.Lock()


@dataclass(frozen=True)
class Found:
    """One thing in the folder; `name` is its place from the folder on, with slashes."""

    kind: Kind
    name: str
    title: str
    changed: float


def listing(root: Path) -> tuple[Found, ...]:
    """Return what a folder holds, the latest first; links that lead out of it are passed over."""
    found: list[Found] = []
    seen = 0
    for place, folders, files in os.walk(root):
        here = Path(place)
        depth = len(here.relative_to(root).parts)
        folders[:] = sorted(name for name in folders if not name.startswith(".") and depth < DEEPEST)
        if depth and "library.toml" in files:
            found.append(_one(here / "library.toml", root, "library"))
            folders.clear()
            continue
        if depth and WEIGHED in files:
            found.append(_one(here / WEIGHED, root, "trials"))
        told = {WEIGHED, READINGS} if depth and WEIGHED in files else set()
        for name in sorted(set(files) - told):
            seen += 1
            path = here / name
            if name.startswith(".") or seen > MOST or not path.resolve().is_relative_to(root):
                continue
            try:
                stat = path.stat()
            except OSError:
                continue
            kind, title = _kind(str(path), stat.st_mtime_ns, stat.st_size)
            if kind != "other":
                found.append(Found(kind, path.relative_to(root).as_posix(), title, stat.st_mtime))
    named = (one if speakable(one.name) else replace(one, kind="misnamed") for one in found)
    return tuple(sorted(named, key=lambda one: (-one.changed, one.name)))


def stamp(root: Path, but: str = "") -> str:
    """Return a value that changes whenever a file changes that a question may read, one file excepted."""
    told = []
    for place, folders, files in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            path = Path(place) / name
            if not name.endswith(SUFFIX) and path.relative_to(root).as_posix() != but:
                try:
                    stat = path.stat()
                except OSError:
                    continue
                told.append(f"{path} {stat.st_mtime_ns} {stat.st_size}")
    return version_of("\n".join(told))


def _one(path: Path, root: Path, kind: Kind) -> Found:
    stat = path.stat()
    name = path.parent.relative_to(root).as_posix()
    title = name if kind == "trials" else _kind(str(path), stat.st_mtime_ns, stat.st_size)[1]
    return Found(kind, name, title, stat.st_mtime)


@lru_cache(maxsize=4096)
def _kind(path: str, changed: int, size: int) -> tuple[Kind, str]:
    """Return the kind and title of a file; `changed` and `size` are the key of the cache."""
    file = Path(path)
    try:
        with file.open("rb") as stream:
            begins = stream.read(BEGINNING if file.suffix != ".toml" else 400_000)
    except OSError:
        return "other", ""
    text = begins.decode("utf-8-sig", "replace")
    if file.name.endswith(SUFFIX):
        return "batch", file.name.removesuffix(SUFFIX)
    if file.suffix == ".toml":
        return _of_keys(text, file.stem)
    if file.suffix == ".csv":
        return _of_table(text), file.stem
    return "other", ""


def _of_keys(text: str, stem: str) -> tuple[Kind, str]:
    try:
        keys = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return ("brief", stem) if "[targets]" in text or "[[include]]" in text else ("other", stem)
    title = str(keys.get("title") or keys.get("name") or stem)
    wants = bool({"targets", "include", "baseline"} & keys.keys()) or isinstance(keys.get("product"), str)
    kinds: tuple[tuple[bool, Kind], ...] = (
        ("make" in keys, "plan"),
        ("unit" in keys, "unit"),
        (isinstance(keys.get("product"), list), "family"),
        (wants, "brief"),
    )
    kind: Kind = next((kind for holds, kind in kinds if holds), "other")
    return kind, stem if kind == "unit" else title


def _of_table(text: str) -> Kind:
    """Return the kind of a table by its header."""
    header = text.partition("\n")[0].casefold()
    words = {word.strip().strip('"') for word in header.replace(";", ",").replace("\t", ",").split(",")}
    if not words & {"material", "ingredient", "name", "inci", "rank"}:
        return "other"
    if words & {"percent", "%", "% w/w", "grams", "g"}:
        return "formula"
    if "price" in words:
        return "prices"
    return "shelf" if "stock_g" in words else "other"


def keys_in(text: str, file: str) -> dict[str, Any]:
    """Return the keys of a TOML text, or refuse it with everything wrong in it."""
    faults = Faults(file)
    keys = parsed_toml(text, file, faults) or {}
    faults.raise_if_any()
    return keys


def brief_in(text: str, folder: Path, file: str) -> Brief:
    """Return the brief that a text is, as if it stood in a file of a folder, checked against its library."""
    from optiform import brief_from

    return brief_from(keys_in(text, file), folder=folder, file=file, loader=remembered_library)


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
