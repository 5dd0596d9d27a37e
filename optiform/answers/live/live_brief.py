"""A brief whose wishes move one at a time: a provisional formula at once, then the proven one."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from optiform.answers.conflict.report import conflict
from optiform.answers.live.changes import changed
from optiform.answers.live.found import Proven, Provisional
from optiform.answers.live.kept_choices import KeptChoices, at_own, in_place
from optiform.answers.live.proof import Known, first_from
from optiform.answers.live.room import Rooms
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault
from optiform.program import breaks, build
from optiform.search.first_formula import first_listed
from optiform.search.narrow.small_program import carried
from optiform.solver import NO_LIMIT, Clock, OutOfTime

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.answers.live.changes import Change
    from optiform.answers.live.room import Room
    from optiform.answers.model.answer import Answer
    from optiform.library.arrays import Floats
    from optiform.program import Key, Program


@dataclass(frozen=True, eq=False)
class _Ground:
    """A brief as it was built last, and the formula whose choices are kept since.

    `values` has shape (columns,).
    """

    brief: Brief = field(repr=False)
    program: Program = field(repr=False)
    values: Floats | None = field(default=None, repr=False)
    kept: KeptChoices | None = field(default=None, repr=False)

    @classmethod
    def of(cls, brief: Brief, program: Program, values: Floats | None) -> _Ground:
        """Keep the choices of a formula, if there is one."""
        kept = None if values is None else KeptChoices(brief, program, values)
        return cls(brief, program, values, kept)


class LiveBrief:
    """One brief with its program, the last formula and live solvers, from one move of a wish to the next.

    Parameters
    ----------
    brief : Brief
        Without `[certainty]`: what holds for every lot is asked afresh, by `check`.

    Raises
    ------
    BadInput
        If the brief has a `[certainty]`, or does not fit its library.

    Notes
    -----
    `move` may be called while `proven` runs on another thread: the older proof then stops.
    """

    def __init__(self, brief: Brief) -> None:
        if brief.certainty is not None:
            raise BadInput(
                [Fault(brief.file, "[certainty]", "limits for every lot are asked afresh, by check")]
            )
        self._lock = threading.RLock()
        self._turn = 0
        self._brief = brief
        self._ground = _Ground.of(brief, build(brief), None)
        self._bounds: dict[int, float] = {}
        self._provisional: Provisional | None = None

    @property
    def brief(self) -> Brief:
        """Return the brief as it stands after the last move."""
        return self._brief

    def move(self, change: Change | Brief) -> Provisional:
        """Change the brief, and return its best formula at the choices of the last one, or that they are impossible.

        Parameters
        ----------
        change : Change or Brief
            One change, or the whole brief as it reads now.

        Raises
        ------
        BadInput
            If the brief cannot be changed so; it then stays as it was.
        """
        with self._lock:
            before = self._brief
            moved = change if isinstance(change, Brief) else changed(before, change)
            ground = self._ground
            place = None if isinstance(change, Brief) else in_place(ground.program, change, moved)
            if place is None:
                ground, bounds = self._rebuilt(moved), {}
            else:
                bounds = {**self._bounds, **place}
            self._turn += 1
            self._brief, self._ground, self._bounds = moved, ground, bounds
            self._provisional = _at_kept_choices(moved, ground, bounds)
            return self._provisional

    def _rebuilt(self, brief: Brief) -> _Ground:
        """Build a brief anew, the last formula carried over into its columns."""
        before, program = self._ground, build(brief)
        same = program.library is before.program.library
        values = (
            None if before.values is None or not same else carried(before.program, before.values, program)
        )
        return _Ground.of(brief, program, values)

    def proven(self, clock: Clock = NO_LIMIT) -> Proven:
        """Return the best formula of the brief as it stands, proven, or that there is none.

        Parameters
        ----------
        clock : Clock
            Once its time is over, or the brief has moved on, the search stops.
        """
        with self._lock:
            turn, brief, ground, start = self._turn, self._brief, self._ground, self._provisional
            moved = bool(self._bounds)
        clock = self._until_moved(clock, turn)
        program = build(brief) if moved else ground.program
        known = None if start is None else _known(program, start)
        found = None if known is None else first_from(brief, known, clock)
        found = found or first_listed(brief, clock, program)
        best = found.polished
        if best is None:
            status, proven = ("stopped", False) if found.stopped else ("conflict", True)
            return Proven(brief, program, None, status, proven)  # type: ignore[arg-type]
        with self._lock:
            if turn == self._turn and not clock.over():
                values = carried(best.program, best.values, program)
                self._ground, self._bounds = _Ground.of(brief, program, values), {}
                self._provisional = Provisional(brief, best.program, best.values)
        return Proven(brief, best.program, best.values, "solved", found.proven, best)

    def conflict(self, clock: Clock = NO_LIMIT) -> Answer:
        """Return why the brief as it stands cannot be met, and the smallest single changes that would free it."""
        with self._lock:
            turn, brief = self._turn, self._brief
        return conflict(brief, build(brief), question="check", clock=self._until_moved(clock, turn))

    def room(self, key: Key, clock: Clock = NO_LIMIT) -> Room | None:
        """Return how low and how high a wish's measure can be with all else held; None where nothing holds all else.

        Raises
        ------
        OutOfTime
            If the time is over, or the brief has moved on, before that is known.
        BadInput
            If the brief has no such wish with a bound.
        """
        return self._rooms(clock).of(key)

    def rooms(self, clock: Clock = NO_LIMIT) -> Iterator[tuple[Key, Room | None]]:
        """Yield the room of every wish of the brief that has a bound, the quick ones first.

        It ends early once the time is over, or the brief has moved on.
        """
        rooms = self._rooms(clock)
        try:
            for key in rooms.wishes():
                yield key, rooms.of(key)
        except OutOfTime:
            return

    def _rooms(self, clock: Clock) -> Rooms:
        with self._lock:
            turn, brief, start = self._turn, self._brief, self._provisional
        program = build(brief)
        known = None if start is None else _known(program, start)
        return Rooms(brief, program, known, self._until_moved(clock, turn))

    def _until_moved(self, clock: Clock, turn: int) -> Clock:
        """Return a clock that stops a question once the brief has moved on."""
        earlier = clock.given_up

        def given_up() -> bool:
            return self._turn != turn or (earlier is not None and earlier())

        deadline = math.inf if clock.deadline is None else clock.deadline
        return replace(clock, deadline=deadline, given_up=given_up)


def _at_kept_choices(brief: Brief, ground: _Ground, bounds: dict[int, float]) -> Provisional:
    """Return the best formula of a brief at the choices that are kept."""
    if ground.kept is None:
        return Provisional(brief, ground.program, None)
    found = ground.kept.best(bounds) if bounds else ground.kept.holds()
    return Provisional(brief, *found) if found is not None else Provisional(brief, ground.program, None)


def _known(program: Program, start: Provisional) -> Known | None:
    """Return a provisional formula in the columns of a program, if it meets that."""
    if start.values is None:
        return None
    there = at_own(program, start.program.catalogue.conditions.ionic_strength)
    values = carried(start.program, start.values, there)
    return None if breaks(there, values) else Known(there, values)
