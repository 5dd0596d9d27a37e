"""Works off the tasks of a folder in this process, on this machine's cores, or on a cluster."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from pathlib import Path

from optiform.answers.recost.folder import Found, gather
from optiform.answers.recost.journal import Journal
from optiform.answers.recost.one import Recosted, Task, in_one_unit, recost_one
from optiform.library.checking.names import Names
from optiform.library.overrides import read_prices

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Recosting:
    """What a price list does to a folder.

    Attributes
    ----------
    products : tuple of Recosted
        In the order of the files' names.
    unknown : tuple of (material id, nearest id)
        Materials of the list that no library of the folder has; the nearest is empty where none is near.
    passed_over : tuple of str
        Files that are neither briefs nor formulas.
    plans : tuple of str
        Plans of several products.
    unit_g : float, optional  [g]
        What is weighed in for one sold unit.
    names : mapping of str to str
        Of the materials whose amounts change or whose limits break, by their ids.
    """

    products: tuple[Recosted, ...]
    unknown: tuple[tuple[str, str], ...] = ()
    passed_over: tuple[str, ...] = ()
    plans: tuple[str, ...] = ()
    unit_g: float | None = None
    names: Mapping[str, str] = field(default_factory=dict)


def recosting(
    folder: str | Path,
    prices: str | Path,
    *,
    library: str | Path | None = None,
    workers: int = 1,
    scheduler: str | None = None,
    journal: str | Path | None = None,
    progress: Progress | None = None,
    unit_g: float | None = None,
) -> Recosting:
    """Solve every brief and price every formula of a folder at new prices; one bad file never stops the rest.

    Parameters and faults are those of `optiform.recost`.

    Parameters
    ----------
    scheduler : str, optional
        Address of a Dask scheduler; its workers do the work instead.
    progress : callable, optional
        Told how many are done, of how many, and the last one's name.
    unit_g : float, optional  [g]
        What is weighed in for one sold unit: the costs in one are told as well.
    """
    changed = read_prices(prices, None)
    found = gather(Path(folder), changed, None if library is None else Path(library))
    with ExitStack() as open_files:
        kept = None if journal is None else open_files.enter_context(Journal(Path(journal)))
        results = _results(found, changed, kept, workers, scheduler, progress or (lambda *step: None))
    products = sorted(results, key=lambda result: result.name)
    if unit_g is not None:
        products = [in_one_unit(result, unit_g) for result in products]
    held = {name: None for library in found.libraries.values() for name in library.material}
    known = Names(held)
    unknown = tuple((name, known.nearest(name)) for name in changed if name not in held) if held else ()
    names = _named(products, found)
    return Recosting(tuple(products), unknown, found.passed_over, found.plans, unit_g, names)


def _results(
    found: Found,
    prices: Mapping[str, float],
    kept: Journal | None,
    workers: int,
    scheduler: str | None,
    told: Progress,
) -> list[Recosted]:
    """Return the result of every task; what a journal holds already is not solved again."""
    total = len(found.tasks) + len(found.unreadable)
    results = {result.key: result for result in found.unreadable}
    done = {} if kept is None else kept.finished
    results.update({task.key: done[task.key] for task in found.tasks if task.key in done})
    waiting = [task for task in found.tasks if task.key not in results]
    with closing(work(waiting, found, prices, workers, scheduler)) as coming:
        for result in coming:
            if kept is not None:
                kept.add(result)
            results[result.key] = result
            told(len(results), total, result.name)
    return list(results.values())


def _named(products: list[Recosted], found: Found) -> dict[str, str]:
    """Return the names of the materials whose amounts change or whose limits break, by their ids."""
    changed = {material for result in products for material, _, _ in result.changes}
    changed |= {word for result in products for told in result.breaks for word in told.split()}
    shelves = found.libraries.values()
    return {item.id: item.name for library in shelves for item in library.materials if item.id in changed}


def work(
    tasks: list[Task], found: Found, prices: Mapping[str, float], workers: int, scheduler: str | None
) -> Generator[Recosted, None, None]:
    """Yield results as they come, from wherever the work is done."""
    if scheduler is not None:
        from optiform.answers.recost.cluster import on_cluster

        return on_cluster(tasks, found.libraries, prices, scheduler)
    if workers > 1 and len(tasks) > 1:
        from optiform.answers.recost.processes import on_processes

        return on_processes(tasks, found.libraries, prices, min(workers, len(tasks)))
    return (recost_one(task, found.libraries[task.library], prices) for task in tasks)
