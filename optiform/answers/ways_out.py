"""The smallest changes that make a brief possible, each solved again as it is printed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers import cases
from optiform.answers.answer import Change, Relaxation
from optiform.answers.compromise import joint
from optiform.answers.describe import lines_of
from optiform.answers.filter import pared
from optiform.answers.moving import GRID, Mover
from optiform.answers.polish import cleaned
from optiform.answers.proof import PLACES, looser, proven, solved

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from optiform.answers.demands import Demand, Demands
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.program import Program, Requirement
    from optiform.solver import Outcome

UNTYPED = ("hold/", "keep/")
"""Requirements whose two sides are one number in the brief: they can go, but not move by themselves."""


@dataclass
class WaysOut:
    """Looks for changes of the requirements that collide.

    Attributes
    ----------
    demands : Demands
    brief : Brief
    conflicts : sequence of tuple of Demand
        Disjoint conflicts; a single change can only free one.
    """

    demands: Demands
    brief: Brief
    conflicts: Sequence[Sequence[Demand]]

    def __post_init__(self) -> None:
        """Hold a mover, and know whether a pH plays a part."""
        self.mover = Mover(self.demands.program, self.demands.session)
        self.acid = "pH" in self.brief.targets or bool(self.demands.program.acid_rows)

    def single_changes(self) -> tuple[Change, ...]:
        """Return, for each colliding requirement, the smallest change that works by itself."""
        return tuple(change for demand in self.conflicts[0] for change in self._changes(demand))

    def best_reachable(self, changes: Sequence[Change]) -> tuple[tuple[Requirement, float], ...]:
        """Return how well each target can be met while all else is held: 0.01 better is impossible."""
        return tuple(
            (change.requirement, change.to)
            for change in changes
            if change.to is not None and not change.requirement.choice
        )

    def compromise(self) -> tuple[tuple[Relaxation, ...], float | None]:
        """Return a joint compromise over all conflicts, and what its best formula costs."""
        movable = [
            demand.index
            for members in self.conflicts
            for demand in members
            if demand.index is not None and _numeric(demand)
        ]
        relaxations = joint(self.mover, movable)
        if not relaxations:
            return (), None
        if not self.acid:
            bounds = {index: item.to for index, item in relaxations.items()}
            outcome = self.mover.best_within(bounds)
            return tuple(relaxations.values()), self._cost(self.mover.program, outcome)
        typed = tuple(relaxations.values())
        for _ in range(PLACES):
            solution = solved(self.brief, *typed)
            if solution is not None:
                return typed, self._cost(solution.program, solution.first)
            typed = tuple(looser(item) for item in typed)
        return (), None

    def _changes(self, demand: Demand) -> Iterator[Change]:
        if not self.demands.mixable([demand]):
            return
        if demand.index in self.mover.program.moves and not demand.requirement.key.startswith(UNTYPED):
            yield from self._moved(demand)
        elif demand.requirement.key.startswith("exclude/"):
            yield from self._readmitted(demand, self._materials(demand))
        elif demand.requirement.key == "targets/pH/bench":
            yield from self._readmitted(demand, self._systems(demand))
        else:
            yield from self._dropped(demand)

    def _moved(self, demand: Demand) -> Iterator[Change]:
        index = demand.index or 0
        for direction in self.mover.directions(index):
            to = self.mover.reach(index, direction)
            if to is None:
                continue
            nothing = demand.requirement.key.startswith("include/") and to <= 0
            change = Change(demand.requirement, drop=True) if nothing else Change(demand.requirement, to=to)
            yield from self._told(change, partial(self.mover.best_at, index, to))

    def _dropped(self, demand: Demand) -> Iterator[Change]:
        yield from self._told(Change(demand.requirement, drop=True), partial(self._best_without, demand.rows))

    def _readmitted(self, demand: Demand, rows_of: dict[str, tuple[int, ...]]) -> Iterator[Change]:
        """Yield what to admit again: what the best formula would use of it, as little as suffices."""
        outcome = self._best_without(demand.rows)
        if outcome.values is None:
            return
        wanted = [name for name in rows_of if self._used(name, outcome.values)]
        if not wanted:
            yield from self._told(Change(demand.requirement, drop=True), lambda: outcome)
            return

        def impossible(names: Sequence[str]) -> bool:
            with self.demands.session.trial() as session:
                session.release(row for name in names for row in rows_of[name])
                return cases.witness(session, self.mover.program).status == "infeasible"

        admitted = pared(impossible, wanted)
        rows = tuple(row for name in admitted for row in rows_of[name])
        change = Change(demand.requirement, readmit=tuple(admitted))
        yield from self._told(change, partial(self._best_without, rows))

    def _materials(self, demand: Demand) -> dict[str, tuple[int, ...]]:
        """Return the rows that shut out each material of an exclusion."""
        program = self.demands.program
        owner = {int(choices[0]): place for place, choices in enumerate(program.uses) if len(choices) == 1}
        rows: dict[str, list[int]] = {name: [] for name in demand.requirement.subject}
        for row in demand.rows:
            column = int(program.form.row(row).indices[0])
            place = column if column < program.size else owner[column]
            rows[program.library.materials[place].id].append(row)
        return {name: tuple(held) for name, held in rows.items()}

    def _systems(self, demand: Demand) -> dict[str, tuple[int, ...]]:
        """Return the rows that shut out each preservative system whose pH range the brief leaves."""
        program = self.demands.program
        shut = set(demand.rows)
        keys = {name: program.index_of.get(f"system-pH/{name}") for name in program.systems}
        rows = {name: program.rows_of[key].tolist() for name, key in keys.items() if key is not None}
        return {name: tuple(held) for name, held in rows.items() if held and shut.issuperset(held)}

    def _used(self, name: str, values: Floats) -> bool:
        """Tell whether a material or a preservative system is used in a solution."""
        program = self.demands.program
        if name in program.systems:
            return bool(values[program.systems[name]] > 0.5)
        return bool(values[program.library.arrays.material_index[name]] > 0)

    def _best_without(self, rows: Sequence[int]) -> Outcome:
        program, session = self.mover.program, self.demands.session
        with session.trial():
            session.release(rows)
            return cases.optimum(session, program, program.form.objective, program.ratio_aim)

    def _told(self, change: Change, best: Callable[[], Outcome]) -> Iterator[Change]:
        """Yield a change with what the best formula then costs and looks like, if there is one.

        Where a pH plays a part the changed brief is solved as it would be if it were typed.
        """
        program = self.mover.program
        if self.acid:
            place = 1.0 if change.requirement.choice else GRID
            found = proven(self.brief, change, place)
            if found is None:
                return
            change, program, outcome = found[0], found[1].program, found[1].first
        else:
            outcome = best()
        if outcome.values is not None:
            lines = lines_of(program.library, _amounts(program, outcome))
            yield replace(change, cost=self._cost(program, outcome), lines=lines)

    def _cost(self, program: Program, outcome: Outcome) -> float | None:
        return program.catalogue.find("cost").value(_amounts(program, outcome))


def _amounts(program: Program, outcome: Outcome) -> Floats:
    if outcome.values is None:
        return np.zeros(program.size)
    return cleaned(program, outcome.values)[: program.size]


def _numeric(demand: Demand) -> bool:
    requirement = demand.requirement
    return (
        requirement.bound is not None and not requirement.choice and not requirement.key.startswith(UNTYPED)
    )
