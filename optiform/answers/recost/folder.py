"""What a folder holds for recosting: its briefs and formulas, each with its library, and its faults."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from optiform import faults as fault_words
from optiform.answers.recost.one import Recosted, Task
from optiform.brief import load_brief
from optiform.faults import BadInput
from optiform.library import Library, load_library
from optiform.library.formulas import read_formula

BRIEF_KEYS = {"targets", "include", "baseline"}
FORMULA_HEADS = ("material,percent", "material,grams")
VERSION = "1"
"""Raised when the same input would give another result, so that old journals are not believed."""


@dataclass(frozen=True)
class Found:
    """The tasks of a folder, the libraries they share, and the files that could not be read."""

    tasks: tuple[Task, ...]
    libraries: Mapping[str, Library] = field(repr=False)
    unreadable: tuple[Recosted, ...] = ()
    passed_over: tuple[str, ...] = ()


def gather(folder: Path, prices: Mapping[str, float], library: Path | None = None) -> Found:
    """Find every brief (TOML) and formula (CSV) below a folder; library folders are not looked into.

    Parameters
    ----------
    folder : Path
    prices : mapping of str to float
        The new prices; they are part of each task's key.
    library : Path, optional
        What formulas draw on; the starter library by default. A brief names its own.

    Raises
    ------
    BadInput
        If the folder is none, or holds neither briefs nor formulas.
    """
    shelf = _Shelf()
    stamp = _digest(VERSION, repr(sorted(prices.items())))
    tasks, unreadable, passed_over = [], [], []
    for path in _files(folder):
        name = str(path.relative_to(folder))
        kind = _kind(path)
        if kind is None:
            passed_over.append(name)
            continue
        try:
            tasks.append(_task(path, name, kind, library, shelf, stamp))
        except BadInput as bad:
            key = _digest(stamp, name, path.read_bytes())
            words = tuple(str(fault) for fault in bad.faults)
            unreadable.append(
                Recosted(key, name, "brief" if kind == "brief" else "formula", "fault", faults=words)
            )
    if not tasks and not unreadable:
        message = "there is no brief and no formula in this folder"
        raise BadInput([fault_words.Fault(str(folder), "", message, "briefs (.toml) or formulas (.csv)")])
    return Found(tuple(tasks), shelf.by_key, tuple(unreadable), tuple(passed_over))


@dataclass
class _Shelf:
    """Libraries read so far, each once, by the digest of what they say."""

    by_path: dict[Path | None, Library] = field(default_factory=dict)
    by_key: dict[str, Library] = field(default_factory=dict)
    keys: dict[int, str] = field(default_factory=dict)

    def load(self, path: Path | None) -> Library:
        place = None if path is None else path.resolve()
        if place not in self.by_path:
            self.by_path[place] = load_library(path)
        return self.by_path[place]

    def key(self, library: Library) -> str:
        if id(library) not in self.keys:
            key = _digest(library.model_dump_json())
            self.keys[id(library)] = key
            self.by_key.setdefault(key, library)
        return self.keys[id(library)]


def _task(path: Path, name: str, kind: str, library: Path | None, shelf: _Shelf, stamp: str) -> Task:
    content = path.read_bytes()
    if kind == "formula":
        held = shelf.load(library)
        shared = shelf.key(held)
        return Task(_digest(stamp, shared, name, content), name, shared, formula=read_formula(path, held))
    brief = load_brief(path, shelf.load)
    shared = shelf.key(brief.library)
    bare = brief.model_copy(update={"library": None})
    return Task(_digest(stamp, shared, name, content), name, shared, brief=bare)


def _files(folder: Path) -> list[Path]:
    """Return the TOML and CSV files below a folder, without those of libraries, in a stable order."""
    if not folder.is_dir():
        raise BadInput(
            [fault_words.Fault(str(folder), "", "is not a folder", "a folder of briefs and formulas")]
        )
    libraries = {path.parent for path in folder.rglob("library.toml")}
    found = [path for path in folder.rglob("*") if path.suffix in (".toml", ".csv") and path.is_file()]
    return sorted(path for path in found if not libraries & set(path.parents))


def _kind(path: Path) -> str | None:
    """Tell whether a file is a brief, a formula or neither; a damaged TOML file counts as a brief."""
    if path.suffix == ".csv":
        with path.open(encoding="utf-8-sig", errors="replace") as file:
            return "formula" if file.readline().strip().startswith(FORMULA_HEADS) else None
    try:
        keys = set(tomllib.loads(path.read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        return "brief"
    return "brief" if keys & BRIEF_KEYS else None


def _digest(*parts: str | bytes) -> str:
    hashed = hashlib.sha256()
    for part in parts:
        content = part.encode() if isinstance(part, str) else part
        hashed.update(len(content).to_bytes(8, "big") + content)
    return hashed.hexdigest()[:24]
