"""Finds the briefs and formulas of a folder, each with its library, and what is wrong with them."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Literal

from optiform import faults as fault_words
from optiform.answers.recost.one import Kind, Recosted, Task, failed
from optiform.brief import load_brief
from optiform.faults import BadInput
from optiform.library import Library, load_library
from optiform.library.files.csv_tables import WANTED
from optiform.library.files.opening import TABLE_BYTES, is_file, is_folder, read_bytes, reason
from optiform.library.files.toml_file import read_toml
from optiform.library.formulas import read_formula
from optiform.library.reading import BESIDE, TABLES
from optiform.library.typed.formula_table import COLUMNS as FORMULA_COLUMNS
from optiform.library.typed.formula_table import NAMING

BRIEF_KEYS = {"title", "aim", "targets", "include", "exclude", "choose", "share", "baseline", "ranked"}
"""Any of them makes a TOML file a brief: one with a misspelt section is a brief with a fault, not another file."""

PLAN_KEYS = {"make", "pack", "supplier", "stock", "spare_percent"}
"""Any of them, and none that only a brief has, makes a TOML file a plan of several products."""

VERSION = "2"
"""Raised when the same input would give another result, so that old journals are not believed."""


@dataclass(frozen=True)
class Found:
    """The tasks of a folder, the libraries they share, and the files that could not be used.

    Attributes
    ----------
    unreadable : tuple of Recosted
        Briefs and formulas with faults.
    passed_over : tuple of str
        Files that are neither briefs nor formulas.
    plans : tuple of str
        Plans of several products; the formulas that they name are products by themselves.
    """

    tasks: tuple[Task, ...]
    libraries: Mapping[str, Library] = field(repr=False)
    unreadable: tuple[Recosted, ...] = ()
    passed_over: tuple[str, ...] = ()
    plans: tuple[str, ...] = ()


def gather(folder: Path, prices: Mapping[str, float], library: Path | None = None) -> Found:
    """Find every brief (TOML) and formula (CSV, or a workbook) below a folder; the tables of libraries are none.

    The new prices are part of each task's key. Formulas draw on the library, a brief names its own.

    Raises
    ------
    BadInput
        If the folder is none, or holds neither briefs nor formulas.
    """
    shelf = _Shelf()
    stamp = _digest(VERSION, repr(sorted(prices.items())))
    tasks, unreadable = [], []
    left: dict[str | None, list[str]] = {None: [], "plan": []}
    files, closed = _files(folder)
    for error in closed:
        name = _printable(os.path.relpath(error.filename, folder))
        words = f"{name}: this folder cannot be read ({reason(error)})"
        unreadable.append(Recosted(_digest(stamp, name), name, "brief", "fault", faults=(words,)))
    for path in files:
        name = str(path.relative_to(folder))
        try:
            kind = _kind(path)
            if kind is None or kind == "plan":
                left[kind].append(_printable(name))
            else:
                tasks.append(_task(path, _named(name), kind, library, shelf, stamp))
        except Exception as error:  # whatever it is, the other products are still asked for
            unreadable.append(_unreadable(path, name, stamp, error))
    if not tasks and not unreadable:
        message = "there is no brief and no formula in this folder"
        raise BadInput(
            [fault_words.Fault(str(folder), "", message, "briefs (.toml) or formulas (.csv, .xlsx)")]
        )
    return Found(tuple(tasks), shelf.by_key, tuple(unreadable), tuple(left[None]), tuple(left["plan"]))


@dataclass
class _Shelf:
    """Libraries read so far, each once, by the digest of what they say."""

    by_path: dict[Path | None, Library] = field(default_factory=dict)
    by_key: dict[str, Library] = field(default_factory=dict)
    keys: dict[int, str] = field(default_factory=dict)

    def load(self, path: Path | None) -> Library:
        place = None if path is None else path.resolve()
        if place not in self.by_path:
            library = load_library(path)
            if library.limits_file:  # a path that means the same in every working directory
                library = library.model_copy(update={"limits_file": str(Path(library.limits_file).resolve())})
            self.by_path[place] = library
        return self.by_path[place]

    def key(self, library: Library) -> str:
        if id(library) not in self.keys:
            key = _digest(library.model_dump_json(), _limits(library))
            self.keys[id(library)] = key
            self.by_key.setdefault(key, library)
        return self.keys[id(library)]


def _limits(library: Library) -> bytes:
    """Return the library's own limits as they are written, nothing where it has none."""
    if not library.limits_file:
        return b""
    faults = fault_words.Faults()
    data = read_bytes(Path(library.limits_file), faults, most=TABLE_BYTES, allowed=WANTED)
    faults.raise_if_any()
    return data or b""


def _task(path: Path, name: str, kind: Kind, library: Path | None, shelf: _Shelf, stamp: str) -> Task:
    """Read one file; its key has everything in it that its result depends on."""
    if kind == "formula":
        held = shelf.load(library)
        shared, formula = shelf.key(held), read_formula(path, held)
        key = _digest(stamp, shared, name, repr(formula.lines), str(date.today()))
        return Task(key, name, shared, formula=formula)
    brief = load_brief(path, shelf.load)
    shared = shelf.key(brief.library)
    bare = brief.model_copy(update={"library": None})
    day = "" if brief.law == "none" else str(brief.on or date.today())
    key = _digest(stamp, shared, name, bare.model_dump_json(), day)
    return Task(key, name, shared, brief=bare)


def _named(name: str) -> str:
    """Return a file's name, which has to be text."""
    if _printable(name) != name:
        message = "the file's name is no text in UTF-8"
        raise BadInput([fault_words.Fault(_printable(name), "", message, "another name")])
    return name


def _printable(name: str) -> str:
    """Return a name without the bytes that are no text, and without what steers a terminal."""
    return fault_words.printable(name.encode("utf-8", "replace").decode("utf-8"))


def _unreadable(path: Path, name: str, stamp: str, error: Exception) -> Recosted:
    """Return what is said of a file that cannot be used, or that the program could not cope with."""
    kind: Kind = "brief" if path.suffix == ".toml" else "formula"
    key, shown = _digest(stamp, name.encode("utf-8", "surrogateescape")), _printable(name)
    if isinstance(error, BadInput):
        return Recosted(key, shown, kind, "fault", faults=fault_words.listed(error.faults))
    if isinstance(error, OSError):
        said = fault_words.Fault(shown, "", f"cannot be read ({reason(error)})")
        return Recosted(key, shown, kind, "fault", faults=(str(said),))
    return replace(failed(Task(key, shown, ""), f"{type(error).__name__}: {error}"), kind=kind)


def _files(folder: Path) -> tuple[list[Path], list[OSError]]:
    """Return what may be products below a folder, in a stable order, and why folders could not be looked into."""
    if not is_folder(folder):
        raise BadInput(
            [fault_words.Fault(str(folder), "", "is not a folder", "a folder of briefs and formulas")]
        )
    closed: list[OSError] = []
    walked = os.walk(folder, onerror=closed.append)
    found = [Path(place, name) for place, _, names in walked for name in names]
    return sorted(path for path in found if _may_be_product(path)), closed


def _may_be_product(path: Path) -> bool:
    """Tell whether a file could be a product by its name: no table of a library, no rest of an interrupted writing."""
    if path.suffix not in (".toml", ".csv", ".xlsx") or path.name.startswith((".", "~$")) or path.is_dir():
        return False
    if not is_file(path.parent / "library.toml"):
        return True
    return path.name != "library.toml" and path.suffix != ".xlsx" and path.stem not in (*TABLES, *BESIDE)


def _kind(path: Path) -> Kind | Literal["plan"] | None:
    """Tell whether a file is a brief, a formula, a plan or none of them; a damaged TOML file counts as a brief."""
    if path.suffix == ".xlsx":
        return "formula" if _is_formula(_first_row(path)) else None
    if path.suffix == ".csv":
        faults = fault_words.Faults()
        data = read_bytes(path, faults, most=TABLE_BYTES, allowed=WANTED)
        faults.raise_if_any()
        line = (data or b"").partition(b"\n")[0].decode("utf-8-sig", "replace")
        return "formula" if _is_formula(line.replace(";", ",").replace("\t", ",").split(",")) else None
    keys = read_toml(path, fault_words.Faults())
    if keys is not None and _is_plan(keys):
        return "plan"
    return "brief" if keys is None or BRIEF_KEYS.intersection(keys) else None


def _is_plan(keys: Mapping[str, object]) -> bool:
    """Tell a plan by its keys; where `product` is a list, it lists briefs."""
    if (BRIEF_KEYS - {"title", "aim"}).intersection(keys):
        return False
    return bool(PLAN_KEYS.intersection(keys)) or isinstance(keys.get("product"), list)


def _first_row(path: Path) -> Iterable[str]:
    """Return the header of the sheet on which a workbook would have a formula; of a damaged one, nothing."""
    from optiform.library.files.xlsx_tables import read_workbook

    workbook = read_workbook(
        path, fault_words.Faults(), lambda names: ["formula" if "formula" in names else names[0]]
    )
    records = () if workbook is None else next(iter(workbook.sheets.values())).records
    return records[0][1] if records else ()


def _is_formula(header: Iterable[str]) -> bool:
    """Tell a formula by its header: a name and an amount, and nothing that a table of a library or of a bench has."""
    names = {FORMULA_COLUMNS.meant(name.strip(" \"'\r\n").casefold()) for name in header}
    other = bool(names & {"base", "trial"}) or {"material", "inci"} <= names
    return bool(names.intersection(NAMING)) and bool(names & {"percent", "grams"}) and not other


def _digest(*parts: str | bytes) -> str:
    hashed = hashlib.sha256()
    for part in parts:
        content = part.encode() if isinstance(part, str) else part
        hashed.update(len(content).to_bytes(8, "big") + content)
    return hashed.hexdigest()[:24]
