"""Follows a brief whose wishes move one at a time: a provisional formula at once, then the proven one."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from optiform.answers.conflict.report import conflict
from optiform.answers.evaluate.judging import Judge
from optiform.answers.live.changes import Bound, changed
from optiform.answers.live.found import Found, Proven, Provisional
from optiform.answers.live.kept_choices import KeptChoices
from optiform.answers.live.proof import searched, searched_anew
from optiform.answers.live.room import Rooms
from optiform.brief.bench import with_base
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault
from optiform.program import build, in_place, with_bound
from optiform.search.bases import on_best_base
from optiform.search.narrow.small_program import carried
from optiform.solver import FIRST, NO_LIMIT, Clock, Memory, OutOfTime

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.answers.live.changes import Change
    from optiform.answers.live.room import Room
    from optiform.answers.model.answer import Answer
    from optiform.program import Key, Program


@dataclass(frozen=True, eq=False)
class _State:
    """A brief after a move, and what is known of it.

    Attributes
    ----------
    turn : int
        How many moves were made.
    program : Program
        At the ionic strength from which a search starts.
    kept : KeptChoices, optional
        The choices of the last formula, in a program with the same columns.
    bounds : dict of int to float
        Requirements whose bounds have moved since that program was built.
    provisional : Provisional
    judge : Judge, optional
        By which what stands for a moment is judged from its amounts alone; made when the first formula is.
    """

    turn: int
    brief: Brief = field(repr=False)
    program: Program = field(repr=False)
    kept: KeptChoices | None = field(repr=False)
    bounds: dict[int, float] = field(repr=False)
    provisional: Provisional = field(repr=False)
    judge: Judge | None = field(default=None, repr=False)


class LiveBrief:
    """One brief with its program, its last formula and live solvers, from one move of a wish to the next.

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
    `move` may be called while another thread waits for `proven`, `room` or `conflict`: the older question then stops.
    """

    def __init__(self, brief: Brief) -> None:
        _refuse_certainty(brief)
        brief = on_best_base(brief, NO_LIMIT)
        self._lock = threading.Lock()
        self._memory = Memory()
        program = build(brief)
        self._state = _State(0, brief, program, None, {}, Provisional(brief, program))

    @property
    def brief(self) -> Brief:
        """Return the brief as it stands after the last move."""
        return self._state.brief

    def move(self, change: Change | Brief) -> Provisional:
        """Change the brief, and return its best formula at the choices of the last one, or that they are impossible.

        A formula that does not hold when it is judged from its amounts alone, as `evaluate` judges, is none.

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
            state = self._state
            brief = (
                _kept_base(state.brief, change) if isinstance(change, Brief) else changed(state.brief, change)
            )
            _refuse_certainty(brief)
            place = (
                in_place(state.program, change.key, change.to, brief) if isinstance(change, Bound) else None
            )
            if place is None:
                program, bounds = build(brief), dict[int, float]()
                kept = _carried_over(state, brief, program)
            else:
                program, bounds, kept = with_bound(state.program, *place), dict(state.bounds), state.kept
                bounds[place[0]] = place[1]
            found = None if kept is None else kept.best(bounds)
            provisional, judge = Provisional(brief, program), None
            if found is not None:
                judge = _judge_after(state.judge, change, brief)
                there = Provisional(brief, program, found.strength, found.values, found.slack)
                amounts = found.values[: program.size]
                sound = place is not None or there.polished() is not None
                if sound and not judge.breaks(judge.program(amounts), amounts):
                    provisional = there
            self._state = _State(state.turn + 1, brief, program, kept, bounds, provisional, judge)
            return provisional

    def proven(self, clock: Clock = NO_LIMIT) -> Proven:
        """Return the best formula of the brief as it stands, proven, or that there is none.

        Parameters
        ----------
        clock : Clock
            Once its time is over, or the brief has moved on, the search stops.
        """
        asked = self._state
        clock = self._until_moved(clock, asked)
        state = _on_best_base(asked, clock)
        brief, program = state.brief, state.program
        search = searched if state.bounds or not state.turn else searched_anew
        found, self._memory = search(brief, program, state.provisional.polished(), clock, self._memory)
        best = found.polished
        if best is None and found.stopped:
            return Proven(brief, program)
        if best is None:
            return Proven(brief, program, status="conflict", proven=True)
        strength = best.program.catalogue.conditions.ionic_strength
        values = carried(best.program, best.values, program)
        there = Provisional(brief, program, strength, values, best.slack)
        if not asked.turn and found.proven:  # a first move then finds the leaves that its own proof asks for
            _, self._memory = searched(brief, program, there.polished(), clock, self._memory.again(FIRST))
        with self._lock:
            if asked is self._state:
                state = _after(state, there)
                self._state = state if asked.turn else _ready(state)
        return Proven(brief, program, strength, values, best.slack, "solved", found.proven)

    def judged(self, found: Found) -> bool:
        """Tell whether a formula holds when it is computed again from its amounts alone, by the judge that moves along.

        False as well where the brief has no such judge yet, or has moved on.
        """
        state = self._state
        if found.values is None or state.judge is None or state.brief is not found.brief:
            return False
        amounts = found.values[: found.stated.size]
        return not state.judge.breaks(state.judge.program(amounts), amounts)

    def conflict(self, clock: Clock = NO_LIMIT) -> Answer:
        """Return why the brief as it stands cannot be met, and the smallest single changes that would free it."""
        state = self._state
        clock = self._until_moved(clock, state)
        return conflict(state.brief, state.program, question="check", clock=clock)

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
        state = self._state
        return Rooms(
            state.brief, state.program, state.provisional.polished(), self._until_moved(clock, state)
        )

    def _until_moved(self, clock: Clock, state: _State) -> Clock:
        """Return a clock that stops a question once the brief has moved on."""
        earlier = clock.given_up

        def given_up() -> bool:
            return self._state.turn != state.turn or (earlier is not None and earlier())

        deadline = math.inf if clock.deadline is None else clock.deadline
        return replace(clock, deadline=deadline, given_up=given_up)


def _kept_base(before: Brief, brief: Brief) -> Brief:
    """Return a brief with what its bench says of the base that counted before, so that its formula can be kept."""
    known = brief.known
    return with_base(
        brief, next((one for one in (known, *known.others) if one.base == before.known.base), known)
    )


def _on_best_base(state: _State, clock: Clock) -> _State:
    """Return the state on the base of its bench whose best formula is best now: a move may bring another one."""
    brief = on_best_base(state.brief, clock)
    if brief is state.brief:
        return state
    program = build(brief)
    return _State(state.turn, brief, program, None, {}, Provisional(brief, program))


def _refuse_certainty(brief: Brief) -> None:
    if brief.certainty is not None:
        raise BadInput([Fault(brief.file, "[certainty]", "limits for every lot are asked afresh, by check")])


def _judge_after(judge: Judge | None, change: Change | Brief, brief: Brief) -> Judge:
    """Return the judge of a moved brief: the last one at another bound, where that is all that moved."""
    if judge is not None and isinstance(change, Bound):
        place = in_place(judge.stated, change.key, change.to, brief)
        if place is not None:
            return Judge(brief, with_bound(judge.stated, *place))
    return Judge.of(brief)


def _carried_over(state: _State, brief: Brief, program: Program) -> KeptChoices | None:
    """Return the choices of the last formula in a program that was built anew."""
    kept = state.kept
    if kept is None:
        return None
    return KeptChoices(brief, program, carried(kept.program, kept.values, program))


def _ready(state: _State) -> _State:
    """Return the state before the first move with all that a move needs."""
    if state.kept is not None:
        state.kept.best(state.bounds)
    return replace(state, judge=state.judge or Judge.of(state.brief))


def _after(state: _State, best: Provisional) -> _State:
    """Return the state once a formula is proven: its choices are kept from now on."""
    if best.values is None or (state.kept is not None and state.kept.are(best.values)):
        return replace(state, provisional=best)
    kept = KeptChoices(state.brief, state.program, best.values)
    return replace(state, kept=kept, bounds={}, provisional=best)
