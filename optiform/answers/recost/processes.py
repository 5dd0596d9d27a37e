"""Works off tasks on this machine's cores, in processes that stop with their parent."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Generator, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool

from optiform.answers.recost.one import Recosted, Task, failed, recost_one
from optiform.library.models import Library
from optiform.stopping import later

AHEAD = 4
"""Tasks handed out per worker before results come back."""

_held: tuple[Mapping[str, Library], Mapping[str, float]] | None = None


def on_processes(
    tasks: list[Task], libraries: Mapping[str, Library], prices: Mapping[str, float], workers: int
) -> Generator[Recosted, None, None]:
    """Yield results as they come from several processes; each gets the libraries once.

    A worker that dies takes no other result with it: what was under way is done again, one at a time in
    a process of its own, and the rest goes on with new workers. Only a product whose process dies when it
    is alone in it counts as failed.
    """
    shared = (dict(libraries), dict(prices), os.getpid())
    waiting = deque(tasks)
    while waiting:
        again = deque((yield from _together(waiting, shared, workers, AHEAD)))
        while again:
            deadly = yield from _together(again, shared, 1, 1)
            yield from (failed(task, "its process ended before it was done") for task in deadly)


Shared = tuple[dict[str, Library], dict[str, float], int]


def _together(
    waiting: deque[Task], shared: Shared, workers: int, ahead: int
) -> Generator[Recosted, None, list[Task]]:
    """Yield results until nothing waits or a worker dies; return what was under way then."""
    lost: list[Task] = []
    running: dict[Future[Recosted], Task] = {}
    with _pool(workers, shared) as pool:
        while True:
            if not lost:
                _hand_out(pool, waiting, running, workers * ahead)
            if not running:
                return lost
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                task = running.pop(future)
                try:
                    result = future.result()
                except BrokenProcessPool:
                    lost.append(task)
                    continue
                yield result


@contextlib.contextmanager
def _pool(workers: int, shared: Shared) -> Iterator[ProcessPoolExecutor]:
    """Lend worker processes; whatever happens meanwhile, none of them is left."""
    context = multiprocessing.get_context("spawn")
    others = {process.pid for process in multiprocessing.active_children()}
    pool = ProcessPoolExecutor(workers, context, _start, shared)
    try:
        yield pool
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
        for process in multiprocessing.active_children():
            if process.pid not in others:
                process.terminate()


def _hand_out(
    pool: ProcessPoolExecutor, waiting: deque[Task], running: dict[Future[Recosted], Task], most: int
) -> None:
    """Submit tasks until enough are under way."""
    while waiting and len(running) < most:
        try:
            with later(), _deaf_offspring():
                running[pool.submit(_one, waiting[0])] = waiting[0]
        except BrokenProcessPool:
            return
        waiting.popleft()


@contextlib.contextmanager
def _deaf_offspring() -> Iterator[None]:
    """Let processes that start meanwhile never hear a Ctrl-C: it is their parent's to handle.

    A terminal sends it to all of them, also to those that are just waking up. Here it waits.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


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
