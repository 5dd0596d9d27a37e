"""Holds the requirements of a program as demands that a live solver can drop one by one."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optiform.answers.conflict.refutations import Refutations
from optiform.bounds import window_text
from optiform.brief.models import Brief
from optiform.program import USED, Form, Key, Program, Requirement, SparseRow
from optiform.program.requirement import PH_WINDOWS
from optiform.program.rows.learned_rows import TRIED
from optiform.program.rows.levels import use_level
from optiform.program.rows.moves import UseMove
from optiform.search import incumbent
from optiform.solver import Cause, Refuting, Session
from optiform.tolerances import NOISE
from optiform.vectors import Floats

FULL = 100.0

FAMILIES = (
    "use", "material-pH", "law",
    "balance", "system-pH", "needs", "incompatible", "linear", "other", "when", "preserved",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Demand:
    """One requirement with everything of the program that stands or falls with it.

    Attributes
    ----------
    index : int, optional
        Its position in the program; None for a demand that the program holds in other rows or bounds.
    rows : tuple of int
        Rows that go when it is dropped.
    loosened : tuple of (int, SparseRow)
        Rows that stay with another content: a use range leaves "used or not" behind.
    columns : tuple of int
        Columns whose upper bound goes to 100 %.
    """

    requirement: Requirement
    index: int | None = None
    rows: tuple[int, ...] = ()
    loosened: tuple[tuple[int, SparseRow], ...] = field(default=(), repr=False)
    columns: tuple[int, ...] = ()

    @property
    def held_rows(self) -> tuple[int, ...]:
        """Return every row that changes when it is dropped."""
        return (*self.rows, *(row for row, _ in self.loosened))


@dataclass(frozen=True, eq=False)
class Known:
    """A solution that was found while some demands were dropped, and where it misses the program.

    Attributes
    ----------
    values : ndarray, shape (columns,)
    rows, columns : frozenset of int
        Rows it does not meet, and columns that it takes beyond their bounds.
    """

    values: Floats = field(repr=False)
    rows: frozenset[int]
    columns: frozenset[int]

    def serves_without(self, dropped: Collection[Demand]) -> bool:
        """Tell whether it meets all that is left when demands are dropped."""
        columns = {column for demand in dropped for column in demand.columns}
        if not self.columns <= columns:
            return False
        rows = {row for demand in dropped for row in demand.rows}
        loosened = {row: content for demand in dropped for row, content in demand.loosened}
        return all(row in loosened and self._meets(loosened[row]) for row in self.rows - rows)

    def _meets(self, row: SparseRow) -> bool:
        total = float(row.values @ self.values[row.indices])
        return row.lower - NOISE <= total <= row.upper + NOISE


def known(form: Form, values: Floats) -> Known:
    """Return a solution with where it misses a form."""
    sums = form.activity(values)
    missed = (sums < form.row_lower - NOISE) | (sums > form.row_upper + NOISE)
    beyond = (values < form.lower - NOISE) | (values > form.upper + NOISE)
    return Known(
        values, frozenset(np.flatnonzero(missed).tolist()), frozenset(np.flatnonzero(beyond).tolist())
    )


class Demands:
    """Asks a live solver what is possible without some demands.

    Parameters
    ----------
    program : Program
        Stated with `open_pH` where a dosed pH is to be dropped or moved.

    Notes
    -----
    Some demands share rows: a gate that the library sets because of the pH that the brief leaves to
    the bench, or a material left out because a target needs data that it lacks. Such a row goes as
    soon as one of its owners is dropped.
    """

    def __init__(self, program: Program, brief: Brief, session: Refuting) -> None:
        self.program, self.session = program, session
        asked = [*_asked(program), *_bench(program, brief)]
        self.brief: tuple[Demand, ...] = tuple(_with_shared(program, brief, demand) for demand in asked)
        self._gone: tuple[Demand, ...] = ()
        self._found: list[Known] = []
        self._refutations = Refutations(session)

    @cached_property
    def families(self) -> tuple[tuple[Demand, ...], ...]:
        """Return what is held while the brief's demands are filtered."""
        return tuple(_held(self.program))

    @contextmanager
    def without(self, dropped: Collection[Demand]) -> Iterator[Session]:
        """Drop demands for a while, beside those that are dropped already."""
        session, gone = self.session, self._gone
        more = set(dropped).difference(gone)
        with session.trial():
            for demand in dropped:
                if demand not in more:
                    continue
                session.release(demand.rows)
                for row, content in demand.loosened:
                    session.set_row(row, content)
                for column in demand.columns:
                    session.set_column_bounds(column, float(self.program.form.lower[column]), FULL)
            self._gone = (*gone, *more)
            try:
                yield session
            finally:
                self._gone = gone

    def possible(self, dropped: Collection[Demand] = ()) -> bool:
        """Tell whether any formula meets what is left: one found before, or one that is looked for."""
        return self.core((), dropped) is None

    def core(self, items: Sequence[Demand], dropped: Collection[Demand] = ()) -> list[Demand] | None:
        """Return those of some demands that the proof needs that no formula meets what is left; None where one does.

        What is not among them takes no part in that proof, and may take part in another.
        """
        gone = (*self._gone, *dropped)
        if any(known.serves_without(gone) for known in self._found):
            return None
        rows = frozenset(row for demand in gone for row in demand.held_rows)
        columns = frozenset(column for demand in gone for column in demand.columns)
        with self.without(dropped):
            found, proof = self._refutations.witness(self.program, rows, columns)
        if found.values is not None:
            self._found.append(known(self.program.form, found.values))
        if found.status != "infeasible":
            return None
        left = [demand for demand in items if demand not in gone]
        causes = [branch.cause for branch in proof if branch.cause is not None]
        rows = frozenset().union(*(cause[0] for cause in causes))
        columns = frozenset().union(*(cause[1] for cause in causes))
        needed = [
            demand
            for demand in left
            if not (rows.isdisjoint(demand.held_rows) and columns.isdisjoint(demand.columns))
        ]
        if len(causes) == len(proof) or len(needed) == len(left):
            return needed
        return needed if self._refused([*dropped, *set(left).difference(needed)], causes) else left

    def _refused(self, dropped: Collection[Demand], causes: Sequence[Cause]) -> bool:
        """Tell whether the solver's own search finds no formula when demands are dropped, by causes that are known."""
        with self.without(dropped) as session, session.trial():
            session.set_objective(np.zeros(self.program.form.columns))
            found = incumbent.in_time(incumbent.decided(session, self.program, causes))
        if found.values is not None:
            self._found.append(known(self.program.form, found.values))
        return found.status == "infeasible"

    def mixable(self, dropped: Collection[Demand] = ()) -> bool:
        """Tell whether any mixture meets what is left with all choices relaxed; "no" is proof, "yes" is not."""
        with self.without(dropped) as session:
            return incumbent.mixable(session, self.program)


def _asked(program: Program) -> Iterator[Demand]:
    """Yield the demands of the brief that the program states by themselves."""
    for index, requirement in enumerate(program.requirements):
        if requirement.origin == "brief":
            yield Demand(requirement, index, tuple(program.rows_of[index].tolist()))


def _held(program: Program) -> Iterator[tuple[Demand, ...]]:
    """Yield the families of what is held while the brief's demands are filtered: library, law and balance.

    The first one is the bulk that seldom takes part. How a preservative system is put together is
    one demand with the rule that there be one.
    """
    kinds: dict[str, list[Demand]] = {kind: [] for kind in FAMILIES}
    for index, requirement in enumerate(program.requirements):
        if requirement.origin == "brief" or (
            requirement.origin == "balance" and requirement.key.section != "balance"
        ):
            continue
        demand = Demand(requirement, index, tuple(program.rows_of[index].tolist()))
        use = requirement.key.section == "use"
        kinds[_family(requirement.key)].append(_use_range(program, demand) if use else demand)
    kinds["use"] += _bare_ranges(program)
    members = [demand for demand in kinds["preserved"] if demand.requirement.key.section != "preserved"]
    kinds["preserved"] = [
        replace(demand, rows=tuple(row for each in (demand, *members) for row in each.rows))
        for demand in kinds["preserved"]
        if demand.requirement.key.section == "preserved"
    ]
    yield from (tuple(family) for family in kinds.values())


def _family(key: Key) -> str:
    """Return the family that a requirement of library, law or balance belongs to."""
    word = "preserved" if key.section == "system" else key.name if key.section == "library" else key.section
    return word if word in FAMILIES else "other"


def _use_range(program: Program, demand: Demand) -> Demand:
    """Return a use range as a demand: without it the material is still used or not."""
    moves = program.moves[demand.index] if demand.index is not None else ()
    at_least = demand.requirement.side == "at_least"
    loosened = tuple((row, move.row(USED if at_least else FULL)) for row, move in moves)
    columns = tuple(move.column for _, move in moves if isinstance(move, UseMove) and not at_least)
    return Demand(demand.requirement, demand.index, (), loosened, columns)


def _bare_ranges(program: Program) -> Iterator[Demand]:
    """Yield the upper ends of use ranges that stand in the program as bounds of a column only."""
    for column, material in enumerate(program.library.materials):
        if material.max_use >= FULL or Key("use", (material.id,), "at_most") in program.index_of:
            continue
        yield Demand(replace(use_level(material, "at_most"), movable=False), columns=(column,))


def _bench(program: Program, brief: Brief) -> Iterator[Demand]:
    """Yield the pH that the brief leaves to the bench: it has no rows but shuts out what works elsewhere."""
    target = brief.targets.get("pH")
    if target is None or target.set != "bench":
        return
    stated = (("library", brief.library.rules), ("brief", brief.rules))
    gated = [Key(origin, ("when", place)) for origin, rules in stated
             for place, rule in enumerate(rules.when, 1) if rule.measure == "pH"]  # fmt: skip
    indices = [
        index
        for index, requirement in enumerate(program.requirements)
        if requirement.key.section in PH_WINDOWS or requirement.key in gated
    ]
    yield Demand(
        Requirement(
            key=Key("targets", ("pH",), "bench"),
            title=f"pH {window_text(target.at_least, target.at_most)}, left to the bench",
            origin="brief",
            measure="pH",
            unit="pH",
            choice=True,
        ),
        rows=tuple(row for index in indices for row in program.rows_of[index].tolist()),
    )


def _with_shared(program: Program, brief: Brief, demand: Demand) -> Demand:
    """Return a demand with the rows that are there only because of it: of materials without data, of trials."""
    name = demand.requirement.measure or demand.requirement.key.name
    if name == brief.aim.measure or demand.requirement.key.section != "targets":
        return demand
    keys = (Key("missing", (name,)), Key(TRIED, (name,)))
    shared = [program.index_of[key] for key in keys if key in program.index_of]
    rows = [row for index in shared for row in program.rows_of[index].tolist()]
    return Demand(demand.requirement, demand.index, (*demand.rows, *rows)) if rows else demand
