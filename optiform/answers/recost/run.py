"""The tasks of a folder, worked off in this process, on this machine's cores, or on a cluster."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping
from contextlib import closing
from pathlib import Path

from optiform.answers.recost.folder import Found, gather
from optiform.answers.recost.journal import Journal
from optiform.answers.recost.one import Recosted, Task, recost_one
from optiform.library.models import Library
from optiform.library.overrides import read_price_list

Progress = Callable[[int, int, str], None]


def recost(
    folder: str | Path,
    prices: str | Path,
    *,
    library: str | Path | None = None,
    workers: int = 1,
    scheduler: str | None = None,
    journal: str | Path | None = None,
    progress: Progress | None = None,
) -> tuple[Recosted, ...]:
    """Solve every brief and price every formula of a folder at new prices.

    Parameters
    ----------
    folder : str or Path
        Briefs (TOML) and formulas (CSV), also in folders below.
    prices : str or Path
        ``material,price``; materials that no library has are passed over.
    library : str or Path, optional
        What formulas draw on; the starter library by default.
    workers : int
        Processes on this machine; 1 works in this one.
    scheduler : str, optional
        Address of a Dask scheduler; its workers do the work instead.
    journal : str or Path, optional
        Results are kept here as they come; what it holds already is not solved again.
    progress : callable, optional
        Told how many are done, of how many, and the last one's name.

    Returns
    -------
    tuple of Recosted
        In the order of the files' names; one bad file never stops the rest.

    Raises
    ------
    BadInput
        If the folder, the price list or the journal cannot be used.
    """
    changed = read_price_list(prices)
    found = gather(Path(folder), changed, None if library is None else Path(library))
    kept = Journal(Path(journal)) if journal is not None else None
    done = {} if kept is None else dict(kept.finished)
    waiting = [task for task in found.tasks if task.key not in done]
    results = {result.key: result for result in found.unreadable}
    results.update({task.key: done[task.key] for task in found.tasks if task.key in done})
    told = progress or (lambda number, total, name: None)
    total = len(found.tasks) + len(found.unreadable)
    with closing(work(waiting, found, changed, workers, scheduler)) as coming:
        for result in coming:
            if kept is not None:
                kept.add(result)
            results[result.key] = result
            told(len(results), total, result.name)
    return tuple(sorted(results.values(), key=lambda result: result.name))


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
    return _here(tasks, found.libraries, prices)


def _here(
    tasks: list[Task], libraries: Mapping[str, Library], prices: Mapping[str, float]
) -> Generator[Recosted, None, None]:
    for task in tasks:
        yield recost_one(task, libraries[task.library], prices)
