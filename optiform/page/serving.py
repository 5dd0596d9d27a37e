"""Runs the server on this machine alone, until it is stopped."""

from __future__ import annotations

import socket
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from optiform.faults import BadInput, Fault
from optiform.page.app import application
from optiform.page.asking import Asker
from optiform.page.desk import Desk
from optiform.page.folder import Folder
from optiform.page.guard import Keys

HERE = "127.0.0.1"
HANDED_OVER = 0.0005
"""Seconds after which a thread that reckons lets another one run: a question that is ready waits for no page."""


@dataclass(frozen=True)
class Opened:
    """A run that is ready to answer: its address with the key, and what serves it until the process is stopped."""

    address: str
    serve: Callable[[], None]


def opened(root: Path, port: int) -> Opened:
    """Return the pages of a folder, on a port of this machine (0: any that is free).

    Raises
    ------
    BadInput
        If the port is taken.
    """
    import uvicorn

    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # Without it head and body of an answer wait for each other: 40 ms of every one of them.
    listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HERE, port))
        listening.listen(128)  # whoever has the address is heard from now on
    except OSError as error:
        listening.close()
        message = f"port {port} cannot be used ({error.strerror or error})"
        raise BadInput(
            [Fault("", "--port", message, "another one; without --port any that is free")]
        ) from None
    number = int(listening.getsockname()[1])
    askers = Asker(), Asker(workers=1)
    desk = Desk(Folder(root), *askers, Keys(number))
    settings = uvicorn.Config(
        application(desk), log_level="critical", access_log=False, server_header=False, lifespan="off", ws="none",
        limit_concurrency=200, timeout_graceful_shutdown=1,
    )  # fmt: skip

    def serve() -> None:
        sys.setswitchinterval(HANDED_OVER)
        try:
            uvicorn.Server(settings).run(sockets=[listening])
        finally:
            for asker in askers:
                asker.close()

    return Opened(f"http://{HERE}:{number}/?key={desk.keys.address}", serve)
