"""Work on this machine's cores: processes that stop with their parent and leave nothing behind."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Generator, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool

from optiform.answers.recost.one import Recosted, Task, recost_one
from optiform.library.models import Library

AHEAD = 4
"""Tasks handed out per worker before results come back."""

_held: tuple[Mapping[str, Library], Mapping[str, float]] | None = None


def on_processes(
    tasks: list[Task], libraries: Mapping[str, Library], prices: Mapping[str, float], workers: int
) -> Generator[Recosted, None, None]:
    """Yield results as they come from several processes; each gets the libraries once.

    A worker that dies takes no other result with it: what it was given is done again here.
    """
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, context, _start, (dict(libraries), dict(prices), os.getpid()))
    ours = {process.pid for process in multiprocessing.active_children()}
    waiting = iter(tasks)
    running: dict[Future[Recosted], Task] = {}
    lost: list[Task] = []
    try:
        _hand_out(pool, waiting, running, workers * AHEAD)
        while running:
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                task = running.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    lost.append(task)
            if not lost:
                _hand_out(pool, waiting, running, workers * AHEAD)
        for task in (*lost, *waiting):
            yield recost_one(task, libraries[task.library], prices)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
        for process in multiprocessing.active_children():
            if process.pid not in ours:
                process.terminate()


def _hand_out(
    pool: ProcessPoolExecutor, waiting: Iterator[Task], running: dict[Future[Recosted], Task], most: int
) -> None:
    """Submit tasks until enough are under way."""
    while len(running) < most:
        task = next(waiting, None)
        if task is None:
            return
        running[pool.submit(_one, task)] = task


def _start(libraries: dict[str, Library], prices: dict[str, float], parent: int) -> None:
    """Prepare a worker: Ctrl-C is its parent's to handle, and it ends when its parent is gone."""
    global _held  # noqa: PLW0603
    _held = (libraries, prices)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow, args=(parent,), daemon=True).start()


def _follow(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)


def _one(task: Task) -> Recosted:
    assert _held is not None
    libraries, prices = _held
    return recost_one(task, libraries[task.library], prices)
