"""Answers questions in other processes: pages stay quick, a question can be stopped, a crash costs one answer."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import queue
import secrets
import signal
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any

from optiform.faults import BadInput, Fault

PATIENCE = 5.0
"""Seconds between a polite stop and the end of the process that did not heed it."""
REMEMBERED = 60
"""Answers that are kept for another look."""
FAILED = "The question failed, and your files are not to blame."


@dataclass(eq=False)
class Ticket:
    """A question that was asked, and its answer once there is one.

    Attributes
    ----------
    told, done : Event
        Set when anything is known of it; when it is answered, refused or failed.
    number : str
        By which a page names it.
    step : object
        How far it is, as the question tells it: words, or what is known so far.
    answer : object
        None where it was refused or failed.
    faults : tuple of Fault
        Why it was refused.
    failure : str
        What went wrong.
    """

    question: Callable[..., Any] = field(repr=False)
    arguments: tuple[Any, ...] = field(repr=False)
    told: threading.Event = field(default_factory=threading.Event, repr=False)
    done: threading.Event = field(default_factory=threading.Event, repr=False)
    number: str = field(default_factory=lambda: secrets.token_hex(8))
    step: Any = None
    answer: Any = None
    faults: tuple[Fault, ...] = ()
    failure: str = ""
    stopped: bool = False

    def reach(self, step: Any) -> None:
        """Note how far it is."""
        self.step = step
        self.told.set()

    def end(self, kind: str, value: Any) -> None:
        """Note how the question ended."""
        if kind == "answered":
            self.answer = value
        elif kind == "refused":
            self.faults = value
        else:
            self.failure = value
        self.done.set()
        self.told.set()


class Asker:
    """Answers questions in worker processes, each question once for all who ask it.

    Parameters
    ----------
    workers : int
        How many questions are answered at once.
    """

    def __init__(self, workers: int = 2) -> None:
        self._tickets: OrderedDict[str, Ticket] = OrderedDict()
        self._lock = threading.Lock()
        self._queue: queue.Queue[Ticket | None] = queue.Queue()
        self._workers = [_Worker(self._queue) for _ in range(workers)]

    def ask(self, key: str, question: Callable[..., Any], *arguments: Any, again: bool = False) -> Ticket:
        """Return the ticket of a question; the same key is the same question, unless one that ended is asked again."""
        with self._lock:
            ticket = self._tickets.get(key)
            if ticket is None or (again and (ticket.stopped or ticket.done.is_set())):
                ticket = Ticket(question, arguments)
                self._tickets[key] = ticket
                self._queue.put(ticket)
            self._tickets.move_to_end(key)
            while len(self._tickets) > REMEMBERED:
                self._tickets.popitem(last=False)
        return ticket

    def ticket(self, number: str) -> Ticket | None:
        """Return the ticket of a number, or None where it is forgotten."""
        return next((ticket for ticket in list(self._tickets.values()) if ticket.number == number), None)

    def stop(self, ticket: Ticket) -> None:
        """Ask a question to end with what it has."""
        ticket.stopped = True
        for worker in self._workers:
            worker.stop(ticket)

    def close(self) -> None:
        """End all processes."""
        for worker in self._workers:
            worker.close()
        for _ in self._workers:
            self._queue.put(None)


class _Worker:
    """One process and the thread that hands it questions."""

    def __init__(self, waiting: queue.Queue[Ticket | None]) -> None:
        self._waiting = waiting
        self._process: Any = None
        self._pipe: Connection | None = None
        self._current: Ticket | None = None
        self._closed = False
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def stop(self, ticket: Ticket) -> None:
        """Stop a question politely if it is this worker's, and for certain soon after."""
        with self._lock:
            if self._current is not ticket or self._process is None:
                return
            with contextlib.suppress(OSError):
                os.kill(self._process.pid, signal.SIGINT)
            process = self._process
        threading.Timer(PATIENCE, self._kill, (ticket, process)).start()

    def close(self) -> None:
        """End the process, and begin no other."""
        with self._lock:
            self._closed = True
            if self._process is not None:
                self._process.kill()

    def _kill(self, ticket: Ticket, process: Any) -> None:
        with self._lock:
            if self._current is ticket:
                process.kill()

    def _run(self) -> None:
        while (ticket := self._waiting.get()) is not None:
            if ticket.stopped:
                ticket.end("failed", "Stopped before it began.")
                continue
            with self._lock:
                if self._closed:
                    ticket.end("failed", "The pages were closed.")
                    return
                pipe = self._started()
                self._current = ticket
            try:
                pipe.send((ticket.question, ticket.arguments))
                while (told := pipe.recv())[0] == "at":
                    ticket.reach(told[1])
            except (EOFError, OSError):
                self._process = None
                told = ("failed", "Stopped." if ticket.stopped else f"{FAILED} Its process ended.")
            with self._lock:
                self._current = None
            ticket.end(*told)

    def _started(self) -> Connection:
        """Return the pipe to a process that lives."""
        if self._process is None or not self._process.is_alive() or self._pipe is None:
            context = multiprocessing.get_context("spawn")
            ours, theirs = context.Pipe()
            self._process = context.Process(target=answer_questions, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
            self._pipe = ours
        return self._pipe


def answer_questions(pipe: Connection) -> None:
    """Answer questions until the pipe is closed; a signal ends the current one with its best so far."""
    from optiform import stopping

    signal.signal(signal.SIGINT, lambda *_: None)
    while True:
        try:
            question, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        with stopping.polite():
            signal.signal(signal.SIGTERM, signal.SIG_DFL)  # the end of the pages waits for no answer
            told = answered(question, arguments, lambda step: pipe.send(("at", step)))
        try:
            pipe.send(told)
        except OSError:
            return


def answered(
    question: Callable[..., Any], arguments: tuple[Any, ...], progress: Callable[[Any], None]
) -> tuple[str, Any]:
    """Return how a question ended, with its answer, its faults or its error."""
    try:
        return "answered", question(*arguments, progress=progress)
    except BadInput as bad:
        return "refused", bad.faults
    except Exception as error:
        return "failed", f"{FAILED} {type(error).__name__}: {error}"
