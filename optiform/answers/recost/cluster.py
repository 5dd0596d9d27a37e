"""Works off tasks on a cluster, through Dask's scheduler; an optional extra.

A cluster is trusted. Libraries, prices and briefs travel to it, and whoever runs the scheduler can run code on the
machine that asks, because Dask's own messages can carry it. What comes back of ours is text, and read as such.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Generator, Iterator, Mapping
from typing import TYPE_CHECKING

from optiform.answers.recost.one import Recosted, Task, failed, from_text, recost_one, to_text
from optiform.faults import BadInput, Fault
from optiform.library.models import Library

if TYPE_CHECKING:
    from distributed import Client, Future

NETWORKS = ("tcp", "tls")
PATIENCE = 10
"""Seconds in which the scheduler has to answer, and to have a worker."""

GONE = "the scheduler or its data were lost"


def on_cluster(
    tasks: list[Task], libraries: Mapping[str, Library], prices: Mapping[str, float], address: str
) -> Generator[Recosted, None, None]:
    """Yield results as they come from the workers of a Dask scheduler.

    The libraries travel once to every worker. A task whose worker is lost runs again elsewhere; its
    key makes sure that it counts once. One that loses its workers more often than the scheduler allows counts
    as failed, and so does what is left when the scheduler itself is gone, at whatever moment that is.

    Raises
    ------
    BadInput
        If Dask is not installed, no scheduler answers at the address, or it has no workers.
    """
    try:
        from distributed import as_completed
    except ImportError:
        message = "working on a cluster needs Dask: pip install 'optiform[cluster]'"
        raise BadInput([Fault("", "--scheduler", message)]) from None
    waiting = {f"recost-{task.key}": task for task in tasks}
    lost = GONE
    try:
        with _quiet(), _client(address) as client:
            shared = {key: client.scatter(library, broadcast=True) for key, library in libraries.items()}
            futures = [
                client.submit(recost_as_text, task, shared[task.library], dict(prices), key=key, pure=True)
                for key, task in waiting.items()
            ]
            for future in as_completed(futures, loop=client.loop):  # type: ignore[no-untyped-call]
                yield _result(future, waiting.pop(future.key))
    except BadInput:
        raise
    except (
        Exception
    ) as error:  # Dask has many words for a scheduler that is gone: handing out, waiting, closing
        lost = f"{GONE}: {type(error).__name__}"
    yield from (failed(task, lost) for task in waiting.values())


def recost_as_text(task: Task, library: Library, prices: Mapping[str, float]) -> str:
    """Recost one product on a worker, and return the result as JSON text."""
    return to_text(recost_one(task, library, prices))


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep Dask's own log off the screen: what it has to tell is told of the products."""
    log = logging.getLogger("distributed")
    before = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        log.setLevel(before)


def _client(address: str) -> Client:
    """Return what talks to a scheduler that has workers."""
    from distributed import Client
    from distributed.comm.addressing import parse_address, parse_host_port

    try:
        scheme, place = parse_address(address)
        if scheme in NETWORKS:
            parse_host_port(place)
        client = Client(address, timeout=PATIENCE, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TypeError) as error:  # the last where TLS has no certificate
        raise BadInput([Fault("", "--scheduler", f"no scheduler answers at {address} ({error})")]) from None
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except BaseException as error:
        client.close()  # type: ignore[no-untyped-call]
        if not isinstance(error, TimeoutError):
            raise
        message = f"the scheduler at {address} has no workers"
        raise BadInput([Fault("", "--scheduler", message, "at least one worker")]) from None
    return client


def _result(future: Future[str], task: Task) -> Recosted:
    """Return what a worker found, or why none could.

    A result whose worker dies before it is handed over is computed again elsewhere, and waited for here; the
    scheduler may be gone before it hands the result over.
    """
    try:
        text = future.result()
    except Exception as error:  # Dask raises here what a worker raised, or what it met while it gathered
        if future.status == "error":
            return failed(task, f"lost on the cluster: {error}")
        return failed(task, f"{GONE}: {type(error).__name__}")
    return _read(text, task)


def _read(text: object, task: Task) -> Recosted:
    """Return the result that a text from the cluster states, if it is one and of this product."""
    found = from_text(text) if isinstance(text, str) else None
    if (
        found is None
        or to_text(found) != text
        or (found.key, found.name, found.kind) != (task.key, task.name, task.kind)
    ):
        return failed(task, "what came back from the cluster is no result of this product")
    return found
