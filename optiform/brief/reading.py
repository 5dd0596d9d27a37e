"""Reads a brief, from a TOML file or a mapping, with everything wrong in it at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from optiform.brief.checking import check_entries
from optiform.brief.guards import missing_guards
from optiform.brief.models import Baseline, BaselineKeys, Brief
from optiform.brief.validation import Entries, read_entries
from optiform.faults import Faults
from optiform.library import Library, load_library
from optiform.library.files.toml_file import read_toml
from optiform.library.formulas import TypedFormula, read_formula
from optiform.library.models import Rules
from optiform.library.overrides import only, read_prices, read_shelf, with_prices
from optiform.library.waiving import waive
from optiform.measures.conditions import NO_TRIALS, BenchKnowledge

TOTAL_TOLERANCE = 0.005


def load_brief(
    path: str | Path,
    loader: Callable[[Path | None], Library] = load_library,
    bench: str | Path | None = None,
) -> Brief:
    """Return the brief in a TOML file, checked against its library and the measures.

    Parameters
    ----------
    path : str or Path
        The file. Paths in it are relative to its folder.
    loader : callable, optional
        What reads a library folder; one that remembers spares reading it again for every brief.
    bench : path, optional
        Stands in for the bench folder that the file names.

    Raises
    ------
    BadInput
        With every fault of the brief, its library, shelf, prices and baseline.
    """
    path = Path(path)
    faults = Faults(str(path))
    mapping = read_toml(path, faults) or {}
    faults.raise_if_any()
    if bench is not None:
        mapping["bench"] = str(Path(bench).absolute())
    return brief_from(mapping, folder=path.parent, file=str(path), loader=loader)


def brief_from(
    mapping: Mapping[str, Any],
    library: Library | None = None,
    folder: str | Path | None = None,
    file: str = "",
    baseline: TypedFormula | None = None,
    known: BenchKnowledge = NO_TRIALS,
    loader: Callable[[Path | None], Library] = load_library,
) -> Brief:
    """Return a brief from the keys of a brief file.

    Parameters
    ----------
    library : Library, optional
        Stands in for the library that the mapping names.
    folder : str or Path, optional
        What relative paths start from; the working directory by default.
    baseline : TypedFormula, optional
        Stands in for the formula file that `[baseline]` names.
    known : BenchKnowledge
        What trials say; stands in for the bench that the mapping names.
    loader : callable
        What reads a library folder.

    Raises
    ------
    BadInput
        With every fault.
    """
    folder, faults = Path(folder or ""), Faults(file)
    entries = read_entries(mapping, faults)
    name, held = entries.scalars.get("library"), library
    if held is None and "library" in entries.scalars:
        with faults.gathering():
            held = loader(None if name is None else folder / name)
    shelf: dict[str, float | None] | None = None
    typed: TypedFormula | None = None
    told: tuple[str, ...] = ()
    if held is not None:
        if entries.scalars.get("bench") is not None:
            known, told = _known(folder / entries.scalars["bench"], held, entries, faults)
            held = held if known.alkali is None else known.alkali.corrected(held)
        held, shelf = _own_figures(held, entries, folder, faults)
        unread = known is NO_TRIALS and entries.scalars.get("bench") is not None
        check_entries(_without_bench(entries) if unread else entries, held, faults, known)
        typed = baseline or _typed(entries.tables.get("baseline"), held, folder, faults)
    faults.raise_if_any()
    assert held is not None
    brief = _assembled(entries, held, faults.file, shelf, typed)
    where = entries.scalars["bench"]
    bench = "" if where is None else str(folder / where)
    return brief.model_copy(update={"known": known, "bench": bench, "notes": (*brief.notes, *told)})


def _without_bench(entries: Entries) -> Entries:
    """Return the entries of a brief but for limits that only a bench can tell: where it is at fault, they are not."""
    kept = {
        name: target
        for name, target in entries.targets.items()
        if (target.sure is None or name == "pH") and target.reading is None and name != "viscosity"
    }
    return replace(entries, targets=kept)


def _known(
    path: Path, library: Library, entries: Entries, faults: Faults
) -> tuple[BenchKnowledge, tuple[str, ...]]:
    """Return what a bench says, with its notes, or nothing after noting its faults."""
    from optiform.brief.bench import bench_knowledge

    includes = [include for _, include in entries.lists["include"]]
    aim = entries.tables.get("aim")
    asked = {*entries.targets, *((aim.minimise, aim.maximise) if aim is not None else ())}
    with faults.gathering():
        return bench_knowledge(path, library, includes, asked - {None})
    return NO_TRIALS, ()


def _own_figures(
    library: Library, entries: Entries, folder: Path, faults: Faults
) -> tuple[Library, dict[str, float | None] | None]:
    """Lay the brief's own prices and shelf over the library."""
    shelf: dict[str, float | None] | None = None
    prices_file, shelf_file = entries.scalars.get("prices"), entries.scalars.get("shelf")
    if prices_file is not None:
        with faults.gathering():
            library = with_prices(library, read_prices(folder / prices_file, library))
    if shelf_file is not None:
        with faults.gathering():
            shelf = read_shelf(folder / shelf_file, library)
            library = only(library, shelf)
    return library, shelf


def _typed(keys: BaselineKeys | None, library: Library, folder: Path, faults: Faults) -> TypedFormula | None:
    """Return the formula that a baseline names, or None after noting its faults."""
    with faults.gathering():
        return None if keys is None else read_formula(folder / keys.formula, library, keys.rank)
    return None


def _notes_on(typed: TypedFormula) -> tuple[str, ...]:
    """Return what a reader must know of a baseline: merged lines, a total off 100."""
    if abs(typed.total - 100.0) <= TOTAL_TOLERANCE:
        return typed.notes
    return (*typed.notes, f"The baseline {typed.name} adds to {typed.total:.6g} %, and is measured as typed.")


def _assembled(
    entries: Entries,
    library: Library,
    file: str,
    shelf: dict[str, float | None] | None,
    typed: TypedFormula | None,
) -> Brief:
    scalars, tables = entries.scalars, entries.tables
    lists = {section: tuple(entry for _, entry in read) for section, read in entries.lists.items()}
    waived = tuple(entry.rule for entry in lists["waive"])
    baseline = None
    if typed is not None:
        read = {"formula": typed.file, "lines": typed.lines, "matched": typed.matched}
        baseline = Baseline(**{**dict(tables["baseline"]), **read})
    brief = Brief(
        title=scalars["title"],
        library=waive(library, waived),
        library_name=scalars["library"] or library.name,
        file=file,
        **{key: scalars[key] for key in ("product", "area", "users", "law", "on", "worth")},
        aim=tables["aim"].aim(),
        targets=entries.targets,
        **{key: lists[key] for key in ("include", "exclude", "choose", "share", "ratio", "prefer", "waive")},
        rules=Rules(**{key: lists[key] for key in ("needs", "incompatible", "when", "linear")}),
        baseline=baseline,
        **{key: tables[key] for key in ("weighing", "certainty", "ranked")},
        shelf=shelf,
    )
    notes = _notes_on(typed) if typed is not None else ()
    if waived:
        notes = (*notes, f"Waived by this brief, guards of its library: {'; '.join(waived)}.")
    return brief.model_copy(update={"notes": (*notes, *missing_guards(brief))})
