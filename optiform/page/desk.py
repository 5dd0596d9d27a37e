"""Holds what all handlers share: the folder, the processes that answer questions, the keys of this run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from optiform.brief import Brief
from optiform.library import Library
from optiform.page.asking import Asker, Ticket
from optiform.page.folder import Folder, Held
from optiform.page.guard import Keys
from optiform.page.listing import Found, brief_in, keys_in, listing, remembered_library, stamp


@dataclass
class Desk:
    """One run of the pages: its folder, its processes and its keys.

    Attributes
    ----------
    asker : Asker
        Answers questions.
    live : Asker
        One process that follows the briefs that are moved.
    """

    folder: Folder
    asker: Asker
    live: Asker
    keys: Keys
    _drags: dict[str, str] = field(default_factory=dict, repr=False)
    _newest: dict[str, tuple[str, list[Ticket]]] = field(default_factory=dict, repr=False)

    @property
    def title(self) -> str:
        """Return the name of the folder."""
        return self.folder.root.name or "Work"

    def holds(self, *kinds: str) -> tuple[Found, ...]:
        """Return what the folder holds of some kinds, the latest first; of all where none is named."""
        return tuple(one for one in listing(self.folder.root) if not kinds or one.kind in kinds)

    def ask(self, question: Callable[..., Any], *arguments: str, again: bool = False) -> Ticket:
        """Ask a question about the folder as it is today; the same question is asked once."""
        key = repr((question.__name__, arguments, stamp(self.folder.root), date.today().isoformat()))
        return self.asker.ask(key, question, *arguments, again=again)

    def follow(self, question: Callable[..., Any], held: Held) -> Ticket:
        """Ask the process that follows moves about a brief as it is now; what was stopped is asked again."""
        others = stamp(self.folder.root, held.name)
        arguments = (self.path(held.name), held.text, others)
        key = repr((question.__name__, arguments, held.version, date.today().isoformat()))
        ticket = self.live.ask(key, question, *arguments)
        return self.live.ask(key, question, *arguments, again=True) if ticket.stopped else ticket

    def newest(self, held: Held, ticket: Ticket) -> None:
        """Note a question about a brief as it is now; what is still asked about it as it was is stopped."""
        version, tickets = self._newest.get(held.name, ("", []))
        if version != held.version:
            for before in tickets:
                if not before.done.is_set():
                    self.live.stop(before)
            tickets = []
        self._newest[held.name] = (held.version, [*tickets, ticket])

    def begins(self, name: str, drag: str) -> bool:
        """Tell whether a change of a brief is another one than the last: not the same slider, still on its way."""
        before, self._drags[name] = self._drags.get(name, ""), drag
        return not drag or drag != before

    def path(self, name: str) -> str:
        """Return the path of a file that a question reads, or an empty one where no name is given."""
        return str(self.folder.place(name)) if name else ""

    def keys_of(self, held: Held) -> dict[str, Any]:
        """Return the keys of a TOML file that names nothing outside the folder.

        Raises
        ------
        BadInput
            If it is no TOML, or names files outside.
        """
        keys = keys_in(held.text, held.name)
        self.folder.refuse_outside(held.name, keys)
        return keys

    def sound(self, held: Held) -> Brief:
        """Return the brief that a text is, checked against its library.

        Raises
        ------
        BadInput
            With everything wrong in it.
        """
        self.keys_of(held)
        return brief_in(held.text, self.folder.place(held.name).parent, held.name)

    def safe(self, name: str) -> str:
        """Return the path of a brief or plan whose files are all inside the folder; empty where no name is given."""
        if name:
            self.keys_of(self.folder.read(name))
        return self.path(name)

    def library(self, name: str) -> Library:
        """Return a library of the folder, or the starter library where no name is given."""
        if not name:
            return remembered_library()
        self.folder.refuse_outside(f"{name}/library.toml", {"library": "."})
        return remembered_library(self.path(name))
