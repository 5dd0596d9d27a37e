"""States a brief with suggestions typed in; where they only move bounds, its own program serves, moved in place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from threading import RLock

from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.evaluate.judging import MANY, Judge
from optiform.answers.model.answer import Change, Relaxation
from optiform.brief.models import Brief
from optiform.program import Program, build, in_place, with_bound

Changes = tuple[Change | Relaxation, ...]


@dataclass(eq=False)
class Restated:
    """States a brief with suggestions typed in, each such brief once; several threads may ask.

    Attributes
    ----------
    brief : Brief
    state : callable
        Makes a program of a brief.
    """

    brief: Brief
    state: Callable[[Brief], Program] = build
    known: dict[Changes, Program] = field(default_factory=dict, repr=False)
    _lock: RLock = field(default_factory=RLock, repr=False)

    def program(self, *changes: Change | Relaxation) -> Program:
        """Return the program of the brief with suggestions typed in."""
        with self._lock:
            if changes not in self.known:
                self.known[changes] = self._in_place(changes) or self.state(typed_back(self.brief, *changes))
            return self.known[changes]

    def judge(self, *changes: Change | Relaxation) -> Judge | None:
        """Return the judge of the brief with suggestions typed in; None where its library is too large for one."""
        if len(self.brief.library.materials) > MANY:
            return None
        return Judge(self.judged.brief, self.judged.program(*changes))

    @cached_property
    def judged(self) -> Restated:
        """Return the same brief as formulas of it are judged: with every pH window of the library."""
        typical = self.brief.model_copy(update={"certainty": None})
        return Restated(typical, partial(build, open_pH=True))

    def _in_place(self, changes: Sequence[Change | Relaxation]) -> Program | None:
        """Return the brief's own program with bounds moved; None where the changes do more than that, or nothing."""
        if not changes:
            return None
        program = self.program()
        for count, change in enumerate(changes, 1):
            moved = typed_back(self.brief, *changes[:count])
            place = in_place(program, change.requirement.key, change.to, moved)
            if place is None:
                return None
            program = with_bound(program, *place)
        return program
