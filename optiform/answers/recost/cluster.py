"""Work on a cluster, through Dask's scheduler; an optional extra."""

from __future__ import annotations

from collections.abc import Generator, Mapping

from optiform.answers.recost.one import Recosted, Task, recost_one
from optiform.faults import BadInput, Fault
from optiform.library.models import Library

PATIENCE = "10s"
LOST_WORKERS = 10
"""How often a task may lose the worker it runs on before it counts as its own fault."""


def on_cluster(
    tasks: list[Task], libraries: Mapping[str, Library], prices: Mapping[str, float], address: str
) -> Generator[Recosted, None, None]:
    """Yield results as they come from the workers of a Dask scheduler.

    The libraries travel once to every worker. A task whose worker is lost runs again elsewhere; its
    key makes sure that it counts once.

    Raises
    ------
    BadInput
        If Dask is not installed, or no scheduler answers at the address.
    """
    try:
        import dask
        from distributed import Client, as_completed
    except ImportError:
        message = "working on a cluster needs Dask: pip install 'optiform[cluster]'"
        raise BadInput([Fault("", "--scheduler", message)]) from None
    dask.config.set({"distributed.scheduler.allowed-failures": LOST_WORKERS})
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise BadInput([Fault("", "--scheduler", f"no scheduler answers at {address} ({error})")]) from None
    with client:
        shared = {
            key: client.scatter(library, broadcast=True)  # type: ignore[no-untyped-call]
            for key, library in libraries.items()
        }
        futures = [
            client.submit(
                recost_one, task, shared[task.library], dict(prices), key=f"recost-{task.key}", pure=True
            )
            for task in tasks
        ]
        names = {future.key: task for future, task in zip(futures, tasks, strict=True)}
        for future in as_completed(futures, loop=client.loop):  # type: ignore[no-untyped-call]
            if future.status == "finished":
                yield future.result()
            else:
                task = names[future.key]
                reason = str(future.exception() or "cancelled")
                kind = "formula" if task.formula is not None else "brief"
                yield Recosted(task.key, task.name, kind, "fault", faults=(f"lost on the cluster: {reason}",))  # type: ignore[arg-type]
