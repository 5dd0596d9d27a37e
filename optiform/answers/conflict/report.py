"""Reports a conflict: which requirements cannot hold together, and what would free them."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import replace
from threading import Lock
from typing import Literal

from optiform.answers.conflict.confirmation import Confirmation
from optiform.answers.conflict.contradictions import contradictions
from optiform.answers.conflict.deletion_filter import irreducible, pared
from optiform.answers.conflict.demands import Demand, Demands
from optiform.answers.conflict.restated import Restated
from optiform.answers.conflict.ways_out import WaysOut, best_reachable
from optiform.answers.describe.cautions import cautions_for
from optiform.answers.evaluate.judging import Recheck
from optiform.answers.model.answer import Answer, Change, Conflict
from optiform.brief.models import Brief
from optiform.program import Key, Program, Requirement, at_strength, build
from optiform.search.ionic_strength import relaxed_ground
from optiform.solver import NO_LIMIT, Clock, OutOfTime, Refuting

TOUCHING = (
    "The pH window is only just out of reach: it could be met at an average ionic strength, but no formula that was "
    "found meets it at its own. Widen it by 0.01."
)
TOO_LATE = "It cannot be met, but the time ran out before it was known which wishes collide."
NO_WAYS = "The time ran out before the smallest changes were known."
WHOLE = {"use": "the use ranges of the materials", "material-pH": "the pH windows of the materials"}
ENOUGH, FEW = 40, 12
"""With more members in a proof, or left by all proofs, a family of the library's requirements is named as a whole."""
LIGHT = "A quick look: designing this brief also finds a compromise, and says which rules of law and library take part."
MOST = 5
"""Disjoint conflicts that are looked for."""


def conflict(
    brief: Brief,
    program: Program,
    *,
    question: Literal["design", "check", "reformulate", "why"] = "design",
    clock: Clock = NO_LIMIT,
    stated: Program | None = None,
) -> Answer:
    """Return what cannot hold together, and the smallest ways out.

    Parameters
    ----------
    question : str
        ``check`` is answered faster: what collides and the smallest single changes, without a compromise and
        without the rules of the library that take part.
    clock : Clock
        Once its time is over what is not known yet is left out, and said to be. Its listener hears one short line
        at each step.
    stated : Program, optional
        The brief as it was stated, at no formula's ionic strength yet.
    """
    finder = Finder(brief, program, clock, stated=stated)
    found = finder.report(in_full=question != "check")
    return Answer(
        question=question,
        status="conflict",
        proven=True,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        title=brief.title,
        library=brief.library.name,
        conflict=found,
        notes=(*((LIGHT,) if question == "check" else ()), *finder.recheck.told, *program.notes),
        cautions=cautions_for(brief),
    )


class Finder:
    """Finds the conflicts of one brief in one live session.

    Notes
    -----
    Brief requirements are filtered with library, law and balance kept in; every proof that some cannot hold together
    tells which of them it needs, and is kept for later questions.
    A pH limit is dropped by widening it to the whole scale, since without any pH target the
    library's systems could not be chosen at all. The changes of each member, the compromise and what
    takes part are looked for side by side, each in a session of its own.

    Parameters
    ----------
    narrowed : callable, optional
        Adds rows to the program within which the conflict is looked for, such as those of a short shelf.
    stated : Program, optional
        The brief as it was stated, at no formula's ionic strength yet.
    """

    def __init__(
        self,
        brief: Brief,
        program: Program,
        clock: Clock = NO_LIMIT,
        narrowed: Callable[[Program], Program] | None = None,
        stated: Program | None = None,
    ) -> None:
        self.brief, self.given, self.clock, self.recheck = brief, program, clock, Recheck()
        self.restated = Restated(brief)
        if stated is not None:
            self.restated.known[()] = stated
        self.confirmation = Confirmation(self.restated, clock)
        self.unconfirmed: list[Requirement] = []
        self._lock = Lock()
        self._ground: Program | None = None
        strength = program.catalogue.conditions.ionic_strength
        self.program = (
            at_strength(build(brief, strength, open_pH=True), strength) if program.acid_rows else program
        )
        if narrowed is not None:
            self.program = narrowed(self.program)
        self.demands = Demands(self.program, brief, Refuting(self.program.form, clock=clock, arrays=True))

    def report(self, *, in_full: bool) -> Conflict:
        """Return the conflicts and the ways out."""
        quick = contradictions(self.program, self.brief)
        for line in quick:
            self.clock.say(line)
        self.clock.say("looking for what cannot hold together")
        try:
            if self.demands.possible():
                return self._touching()
            found = self.conflicts()
        except OutOfTime:
            return Conflict(requirements=(), quick=(*quick, TOO_LATE), complete=False)
        known = Conflict(
            requirements=requirements(found[0]),
            more=tuple(requirements(other) for other in found[1:]),
            quick=quick,
        )
        self.clock.say("looking for the smallest changes")
        try:
            if not in_full:
                return replace(known, single_changes=self._single_changes(found))
            return self._with_ways_out(known, found)
        except OutOfTime:
            return replace(known, quick=(*quick, NO_WAYS), complete=False)

    def _single_changes(self, found: Sequence[Sequence[Demand]]) -> tuple[Change, ...]:
        """Return the smallest changes of one requirement that work by themselves; of several conflicts none does."""
        alone = range(len(found[0])) if len(found) == 1 else ()
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as side:
            told = side.map(lambda place: self._ways(found).changes_of(place), alone)
            return tuple(change for changes in told for change in changes)

    def _with_ways_out(self, known: Conflict, found: Sequence[Sequence[Demand]]) -> Conflict:
        """Return a conflict with what takes part in it and with the ways out."""
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as side:
            single = side.submit(self._single_changes, found)
            joint = side.submit(lambda: self._ways(found).compromise())
            held = side.submit(self.taking_part, found[0])
            changes = single.result()
            compromise, cost = joint.result()
            return replace(
                known,
                not_movable=tuple(replace(item, movable=False) for item in requirements(held.result())),
                single_changes=changes,
                compromise=compromise,
                compromise_cost=cost,
                together=None if changes or compromise else self._ways(found).together(),
                best_reachable=best_reachable(changes),
                unconfirmed=tuple(item for item in known.requirements if item in self.unconfirmed),
            )

    def _touching(self) -> Conflict:
        """Return the conflict of a pH window that no formula holds at its own ionic strength."""
        window = [demand for demand in self.demands.brief if demand.requirement.measure == "pH"]
        return Conflict(requirements=requirements(window), quick=(TOUCHING,))

    def _ways(self, found: Sequence[Sequence[Demand]]) -> WaysOut:
        """Return a search for ways out in a session of its own, in which the conflicts are stated."""
        program = self._grounded(found)
        demands = Demands(program, self.brief, Refuting(program.form, clock=self.clock, arrays=True))
        return WaysOut(
            demands, self.brief, _in(demands, found), self.confirmation, self.recheck, self.unconfirmed
        )

    def _grounded(self, found: Sequence[Sequence[Demand]]) -> Program:
        """Return the program in which ways out are looked for, the same for all of them.

        Where no pH limit takes part, the program as given will do, which is smaller. The ionic
        strength is that of the best mixture that one member of each conflict less would allow.
        """
        with self._lock:
            if self._ground is None:
                moving = any(demand.requirement.measure == "pH" for members in found for demand in members)
                program = self.program if moving else self.given
                demands = Demands(program, self.brief, Refuting(program.form, clock=self.clock, arrays=True))
                rows = [
                    row for members in _in(demands, found) for demand in members[-1:] for row in demand.rows
                ]
                self._ground = relaxed_ground(program, demands.session, rows)
            return self._ground

    def conflicts(self) -> list[tuple[Demand, ...]]:
        """Return disjoint irreducible conflicts among the brief's demands.

        The list is empty-handed only where library and law alone are impossible: then its one
        conflict has no member.
        """
        found: list[tuple[Demand, ...]] = []
        gone: list[Demand] = []
        while len(found) < MOST:
            left = _but(self.demands.brief, gone)
            with self.demands.without(gone):
                narrowed = self._narrowed(left)
                with self.demands.without(_but(left, narrowed)):
                    kept = self._irreducible(narrowed)
            found.append(tuple(kept))
            gone += kept
            if not kept or self.demands.possible(gone):
                break
        return found

    def _narrowed(self, candidates: Sequence[Demand]) -> Sequence[Demand]:
        """Return what the relaxation alone cannot hold together; all candidates where it can hold them.

        Its "no" is a proof, and costs a millisecond; of several conflicts that of the earlier wishes is told.
        """
        if self.demands.mixable():
            return candidates
        return irreducible(lambda kept: self.demands.mixable(_but(candidates, kept)), candidates)

    def _irreducible(self, candidates: Sequence[Demand], most: float = math.inf) -> list[Demand]:
        """Return an irreducible conflict among candidates, or all that a proof needs where that is more than `most`."""

        def core(kept: Sequence[Demand]) -> list[Demand] | None:
            return self.demands.core(kept, _but(candidates, kept))

        first = core(candidates) or []
        return pared(core, first) if len(first) <= most else first

    def taking_part(self, members: Sequence[Demand]) -> tuple[Demand, ...]:
        """Return what of library, law and balance a conflict cannot do without."""
        families = self.demands.families
        found: list[Demand] = []
        with ExitStack() as gone:

            def drop(demands: Collection[Demand]) -> None:
                gone.enter_context(self.demands.without(demands))

            drop(_but(self.demands.brief, members))
            every = [demand for family in families for demand in family]
            needed = set(self.demands.core(every) or every)
            drop([demand for demand in every if demand not in needed])
            parts = []
            for family in families:
                part = [demand for demand in family if demand in needed]
                if part and self.demands.possible(part):
                    parts.append((family, part))
                else:
                    drop(part)
            for family, part in parts:
                kept = self._irreducible(part, ENOUGH) if len(part) > 1 else part
                if len(kept) > ENOUGH or FEW <= len(kept) == len(family):
                    found.append(together(family))
                else:
                    drop(_but(part, kept))
                    found += kept
        return tuple(found)


def _but(demands: Sequence[Demand], others: Sequence[Demand]) -> list[Demand]:
    """Return demands that are not among others."""
    return [demand for demand in demands if demand not in others]


def _in(demands: Demands, found: Sequence[Sequence[Demand]]) -> list[tuple[Demand, ...]]:
    """Return conflicts as demands of another program of the same brief."""
    same = {demand.requirement.key: demand for demand in demands.brief}
    return [tuple(same[demand.requirement.key] for demand in members) for members in found]


def together(family: Sequence[Demand]) -> Demand:
    """Return a family as one demand that takes part as a whole."""
    head = family[0].requirement.key.section
    title = WHOLE.get(head, "the rules of the library")
    requirement = Requirement(
        key=Key(head), title=title, origin=family[0].requirement.origin, movable=False, choice=True
    )
    return Demand(requirement)


def requirements(demands: Collection[Demand]) -> tuple[Requirement, ...]:
    """Return the requirements behind demands."""
    return tuple(demand.requirement for demand in demands)
