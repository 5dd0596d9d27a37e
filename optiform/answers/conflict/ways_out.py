"""Finds the smallest changes that make a brief possible, each solved again as it is printed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from optiform.answers.conflict.compromise import joint
from optiform.answers.conflict.confirmation import Confirmation
from optiform.answers.conflict.deletion_filter import pared
from optiform.answers.conflict.demands import Demand, Demands
from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.describe.formula import lines_of
from optiform.answers.evaluate.judging import Recheck, pairs_of
from optiform.answers.model.answer import Change, Line, Relaxation, Together
from optiform.brief.models import Brief
from optiform.program import Key, Program, Requirement
from optiform.search.fixed_choices import cleaned
from optiform.search.relaxation import Mover, place_of
from optiform.solver import Session
from optiform.vectors import Floats

UNTYPED = ("hold", "keep")
"""Sections of requirements whose two sides are one number in the brief: they can go, but not move by themselves."""


@dataclass(frozen=True, eq=False)
class Way:
    """A change of one requirement that was found in a live session, and how the session makes it."""

    change: Change
    make: Callable[[Session], None]


@dataclass
class WaysOut:
    """Looks for changes of the requirements that collide.

    Attributes
    ----------
    conflicts : sequence of tuple of Demand
        Disjoint conflicts; a single change can only free one.
    confirmation : Confirmation
        Solves the changed brief as it would be if it were typed.
    recheck : Recheck
        Hears of every change whose formula does not hold.
    unconfirmed : list of Requirement
        Of which a change seemed to help, and did not hold when it was solved or computed again.
    """

    demands: Demands
    brief: Brief
    conflicts: Sequence[Sequence[Demand]]
    confirmation: Confirmation
    recheck: Recheck = field(default_factory=Recheck)
    unconfirmed: list[Requirement] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Hold a mover, and know whether a pH plays a part."""
        self.mover = Mover(self.demands.program, self.demands.session)
        self.acid = "pH" in self.brief.targets or bool(self.demands.program.acid_rows)

    def changes_of(self, place: int) -> tuple[Change, ...]:
        """Return the smallest changes of one member of the first conflict that work by themselves."""
        demand = self.conflicts[0][place]
        found: list[Change] = []
        for way in self._ways(demand):
            told = tuple(self._told(way))
            found += told
            if not told and demand.requirement not in self.unconfirmed:
                self.unconfirmed.append(demand.requirement)
        return tuple(found)

    def together(self) -> Together | None:
        """Return changes of a few requirements that make the brief possible together.

        Of all that collide, as much is put back as can be, choices first and the cost last; what is left gives
        way: what has no number goes, the rest moves side by side, or one after the other where that leaves
        nothing of a limit.
        """
        given = [demand for members in self.conflicts for demand in members if demand.requirement.movable]
        if not self.demands.possible(given):
            return None
        for demand in sorted(given, key=_ease):
            fewer = [other for other in given if other is not demand]
            if self.demands.possible(fewer):
                given = fewer
        changes = self._settled(sorted(given, key=_numeric))
        found = self.confirmation.together(changes)
        if found is None:
            return None
        typed, best = found
        lines = lines_of(best.program.library, _amounts(best.program, best.values))
        if not self._holds("a set of changes", lines, *typed):
            return None
        return Together(typed, self._cost(best.program, best.values), lines)

    def _settled(self, given: Sequence[Demand]) -> list[Change]:
        """Return how requirements give way of which none can be put back, those without a number first."""
        changes: list[Change] = []
        with self.demands.session.trial() as session:
            for place, demand in enumerate(given):
                if _numeric(demand):
                    side_by_side = joint(
                        self.mover, [other.index for other in given[place:] if other.index is not None]
                    )
                    if side_by_side:
                        return [
                            *changes,
                            *(Change(item.requirement, to=item.to) for item in side_by_side.values()),
                        ]
                with session.trial():
                    session.release(row for later in given[place + 1 :] for row in later.rows)
                    dropped = Way(Change(demand.requirement, drop=True), partial(_release, demand.rows))
                    way = next(self._ways(demand), dropped)
                changes.append(way.change)
                way.make(session)
        return changes

    def compromise(self) -> tuple[tuple[Relaxation, ...], float | None]:
        """Return a joint compromise over all conflicts, and what its best formula costs."""
        movable = [
            demand.index
            for members in self.conflicts
            for demand in members
            if demand.index is not None and _numeric(demand) and demand.requirement.movable
        ]
        relaxations = joint(self.mover, movable)
        if not relaxations:
            return (), None
        if not self.acid:
            bounds = {index: item.to for index, item in relaxations.items()}
            outcome = self.mover.best_within(bounds)
            if outcome.values is None:
                return (), None
            return self._agreed(tuple(relaxations.values()), self.mover.program, outcome.values)
        found = self.confirmation.together(tuple(relaxations.values()), least=True)
        if found is None:
            return (), None
        typed, best = found
        return self._agreed(typed, best.program, best.values)

    def _agreed(
        self, given: tuple[Relaxation, ...], program: Program, values: Floats
    ) -> tuple[tuple[Relaxation, ...], float | None]:
        """Return a compromise with the cost of its formula, if that holds."""
        lines = lines_of(program.library, _amounts(program, values))
        if not self._holds("a compromise", lines, *given):
            return (), None
        return given, self._cost(program, values)

    def _ways(self, demand: Demand) -> Iterator[Way]:
        """Yield the smallest changes of a requirement that help, as far as the session tells.

        What protects a wash is not movable: no way out gives it up.
        """
        if not demand.requirement.movable or not self.demands.mixable([demand]):
            return
        if demand.index in self.mover.program.moves and demand.requirement.key.section not in UNTYPED:
            yield from self._moved(demand)
        elif demand.requirement.key.section in ("exclude", "shelf"):
            yield from self._readmitted(demand, self._materials(demand))
        elif demand.requirement.key.side == "bench":
            yield from self._readmitted(demand, self._systems(demand))
        elif self._helps(demand.rows):
            yield Way(Change(demand.requirement, drop=True), partial(_release, demand.rows))

    def _moved(self, demand: Demand) -> Iterator[Way]:
        index = demand.index or 0
        for direction in self.mover.directions(index):
            to = self.mover.reach(index, direction)
            if to is None:
                continue
            nothing = demand.requirement.key.section == "include" and to <= 0
            change = Change(demand.requirement, drop=True) if nothing else Change(demand.requirement, to=to)
            yield Way(change, partial(self.mover.move, {index: to}))

    def _helps(self, rows: Sequence[int]) -> bool:
        """Tell whether any formula is possible once some rows are let go."""
        with self.demands.session.trial() as session:
            session.release(rows)
            return self.mover.found_within({}).values is not None

    def _readmitted(self, demand: Demand, rows_of: dict[str, tuple[int, ...]]) -> Iterator[Way]:
        """Yield what to admit again: what the best formula would use of it, as little as suffices."""
        with self.demands.session.trial() as session:
            session.release(demand.rows)
            values = self.mover.best_within({}).values
        if values is None:
            return
        wanted = [name for name in rows_of if self._used(name, values)]
        if not wanted:
            yield Way(Change(demand.requirement, drop=True), partial(_release, demand.rows))
            return

        def rows(names: Sequence[str]) -> tuple[int, ...]:
            return tuple(row for name in names for row in rows_of[name])

        admitted = pared(lambda names: None if not self._helps(rows(names)) else names, wanted)
        yield Way(Change(demand.requirement, readmit=tuple(admitted)), partial(_release, rows(admitted)))

    def _materials(self, demand: Demand) -> dict[str, tuple[int, ...]]:
        """Return the rows that shut out each material of an exclusion; materials may share a choice."""
        program = self.demands.program
        shut = [(row, int(program.form.row(row).indices[0])) for row in demand.rows]
        index = program.library.arrays.material_index
        return {
            name: tuple(
                row for row, column in shut if column == index[name] or column in program.uses[index[name]]
            )
            for name in demand.requirement.subject
        }

    def _systems(self, demand: Demand) -> dict[str, tuple[int, ...]]:
        """Return the rows that shut out each preservative system whose pH range the brief leaves."""
        program = self.demands.program
        shut = set(demand.rows)
        keys = {name: program.index_of.get(Key("system-pH", (name,))) for name in program.systems}
        rows = {name: program.rows_of[key].tolist() for name, key in keys.items() if key is not None}
        return {name: tuple(held) for name, held in rows.items() if held and shut.issuperset(held)}

    def _used(self, name: str, values: Floats) -> bool:
        """Tell whether a material or a preservative system is used in a solution."""
        program = self.demands.program
        if name in program.systems:
            return bool(values[program.systems[name]] > 0.5)
        return bool(values[program.library.arrays.material_index[name]] > 0)

    def _told(self, way: Way) -> Iterator[Change]:
        """Yield a change with what the best formula then costs and looks like, if there is one.

        Where a pH plays a part the changed brief is solved as it would be if it were typed.
        """
        program, change, values = self.mover.program, way.change, None
        if self.acid:
            found = self.confirmation.proven(change, place_of(change.requirement))
            if found is None:
                return
            change, program, values = found[0], found[1].program, found[1].values
        else:
            with self.demands.session.trial() as session:
                way.make(session)
                values = self.mover.best_within({}).values
        if values is not None:
            lines = lines_of(program.library, _amounts(program, values))
            if self._holds(f'a change of "{change.requirement.title}"', lines, change):
                yield replace(change, cost=self._cost(program, values), lines=lines)

    def _holds(self, what: str, lines: Sequence[Line], *changes: Change | Relaxation) -> bool:
        """Tell whether a formula holds in the changed brief, computed again from its amounts."""
        judge = self.confirmation.restated.judge(*changes)
        return self.recheck.holds(what, typed_back(self.brief, *changes), pairs_of(lines), judge=judge)

    def _cost(self, program: Program, values: Floats) -> float | None:
        return program.catalogue.find("cost").value(_amounts(program, values))


def best_reachable(changes: Sequence[Change]) -> tuple[tuple[Requirement, float], ...]:
    """Return how well each target can be met while all else is held: 0.01 better is impossible."""
    return tuple(
        (change.requirement, change.to)
        for change in changes
        if change.to is not None and not change.requirement.choice
    )


def _release(rows: Sequence[int], session: Session) -> None:
    session.release(rows)


def _amounts(program: Program, values: Floats) -> Floats:
    return cleaned(program, values)[: program.size]


def _ease(demand: Demand) -> int:
    """Return how easily a requirement gives way: a choice least, a cost most."""
    return _numeric(demand) + (demand.requirement.measure == "cost")


def _numeric(demand: Demand) -> bool:
    requirement = demand.requirement
    return requirement.bound is not None and not requirement.choice and requirement.key.section not in UNTYPED
