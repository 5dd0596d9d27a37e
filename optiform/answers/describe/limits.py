"""Finds the limits at which a formula stands, each with the rows that follow its bound."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from optiform.bounds import PH_DECIMALS, number
from optiform.library.models import PreservativeSystem
from optiform.measures import Side
from optiform.measures.acidity import Acidity
from optiform.program import Move, Program, SparseRow, limit_title
from optiform.program.program import AcidRow
from optiform.program.requirement import Key, Requirement
from optiform.program.rows.levels import use_level
from optiform.search.fixed_choices import Polished
from optiform.tolerances import CLEAR, ROUNDING
from optiform.vectors import Floats

FULL = 100.0


@dataclass(frozen=True, eq=False)
class Limit:
    """A bound that a formula meets with no room.

    Attributes
    ----------
    requirement : Requirement
        With its bound and side, in the user's words.
    rows : tuple of (int, Move)
        Rows of the reduced program, and how each follows the bound.
    column : int, optional
        Where no row but the end of a column of the reduced program holds it.
    """

    requirement: Requirement
    rows: tuple[tuple[int, Move], ...] = field(default=(), repr=False)
    column: int | None = None


@dataclass(frozen=True, eq=False)
class AmountMove:
    """A bound on the amount of one material whose choice is settled."""

    column: int
    side: Side

    def row(self, bound: float, slack: float = 0.0) -> SparseRow:
        """Return the row at a bound."""
        low, high = (bound, np.inf) if self.side == "at_least" else (-np.inf, bound)
        return SparseRow(np.array([self.column], dtype=np.intp), np.ones(1), low, high)

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return 1: the bound is the right-hand side."""
        return 1.0


def tight(polished: Polished) -> tuple[Limit, ...]:
    """Return the limits that a formula meets with no room, those with a row of their own first."""
    reduced = polished.reduced
    activity: Floats = reduced.form.activity(polished.values[reduced.free])
    room = np.minimum(activity - reduced.form.row_lower, reduced.form.row_upper - activity)
    found = []
    for limit in (*_stated(polished), *_windows_of_pH(polished), *_windows_of_system(polished)):
        bound = limit.requirement.bound or 0.0
        for row, move in limit.rows:
            scale = max(abs(move.scale(polished.amounts, bound)), ROUNDING)
            if room[row] <= CLEAR * max(scale, 1.0):
                found.append(limit)
                break
    return (*found, *_ends_of_use(polished))


def _stated(polished: Polished) -> Iterator[Limit]:
    """Yield the requirements that have a bound of their own."""
    program, place = polished.program, polished.reduced.row_position
    for index, moves in program.moves.items():
        requirement = program.requirements[index]
        rows = tuple((place[row], move) for row, move in moves if row in place)
        if requirement.bound is not None and rows:
            yield Limit(requirement, rows)


def _windows_of_pH(polished: Polished) -> Iterator[Limit]:
    """Yield the ends of pH windows that hold while something is used which needs them."""
    program, place = polished.program, polished.reduced.row_position
    for acid in program.acid_rows:
        owners = acid.owners(polished.values) if isinstance(acid.move.measure, Acidity) else ()
        if owners and acid.row in place:
            asked = tuple(program.requirements[key] for key in owners)
            yield Limit(_end_of_pH(program, acid, asked, polished.amounts), ((place[acid.row], acid.move),))


def _end_of_pH(program: Program, acid: AcidRow, asked: Sequence[Requirement], amounts: Floats) -> Requirement:
    """Return one end of pH as a requirement, with what needs it there and the margins that it holds."""
    names = tuple(dict.fromkeys(name for item in asked for name in _needing(program, item, amounts)))
    margins = "; ".join(
        words for system in program.library.systems if system.name in names for words in _margin(system, acid)
    )
    title = f"{limit_title('pH', acid.side, acid.bound, '', PH_DECIMALS)}, for {', '.join(names)}"
    return Requirement(
        key=Key("pH", (number(acid.bound),), acid.side),
        title=f"{title}: {margins}" if margins else title,
        origin="brief" if all(item.origin == "brief" for item in asked) else "library",
        measure="pH",
        side=acid.side,
        bound=acid.bound,
        label="pH",
        decimals=PH_DECIMALS,
        movable=False,
        subject=names,
        why="; ".join(dict.fromkeys(item.why for item in asked if item.why)),
        source=" ".join(dict.fromkeys(item.source for item in asked if item.source)),
    )


def _margin(system: PreservativeSystem, acid: AcidRow) -> Iterator[str]:
    """Yield how the margin of a preservative system makes up an end of pH, where it does."""
    low, high = system.pH or (None, None)
    stated = low if acid.side == "at_least" else high
    if system.margin and stated is not None and acid.bound in system.working_pH:
        sign = "and" if acid.side == "at_least" else "less"
        yield f"{number(stated)} {sign} a margin of {number(system.margin)}"


def _needing(program: Program, requirement: Requirement, amounts: Floats) -> tuple[str, ...]:
    """Return the systems and used materials that a pH window is about; the name of a rule that has one."""
    index = program.library.arrays.material_index
    return tuple(name for name in requirement.subject if name not in index or amounts[index[name]] > 0) or (
        requirement.title,
    )


def room_for_pH(program: Program, values: Floats) -> tuple[float, float]:
    """Return the lowest and highest pH that suit the brief and everything in a formula, where it is not the bench's."""
    taken = [
        acid for acid in program.acid_rows if isinstance(acid.move.measure, Acidity) and acid.holds(values)
    ]
    low = max((acid.bound for acid in taken if acid.side == "at_least"), default=-np.inf)
    high = min((acid.bound for acid in taken if acid.side == "at_most"), default=np.inf)
    return float(low), float(high)


def asking_for(program: Program, values: Floats, side: Side, bound: float) -> tuple[str, ...]:
    """Return what asks for one end of the pH: the brief, systems, materials and rules."""
    found: dict[str, None] = {}
    for acid in program.acid_rows:
        if acid.side == side and acid.bound == bound and isinstance(acid.move.measure, Acidity):
            if not acid.asked:
                found["the brief"] = None
            for key in acid.owners(values):
                found |= dict.fromkeys(_needing(program, program.requirements[key], values[: program.size]))
    return tuple(found)


def _windows_of_system(polished: Polished) -> Iterator[Limit]:
    """Yield the doses of the chosen preservative system, both ends of each."""
    program, place = polished.program, polished.reduced.row_position
    library = program.library
    for system in library.systems:
        if system.name not in program.systems or polished.values[program.systems[system.name]] < 0.5:
            continue
        for member, (low, high) in system.members.items():
            rows = program.rows_of[program.index_of[Key("system", (member,))]].tolist()
            most = min(high, library.material[member].max_use)
            ends: tuple[tuple[Side, float, int], ...] = (
                ("at_least", low, rows[0]),
                ("at_most", most, rows[1]),
            )
            for side, bound, row in ends:
                if bound > 0 and row in place:
                    move = AmountMove(library.arrays.material_index[member], side)
                    yield Limit(dose_limit(system, member, side, bound), ((place[row], move),))


def dose_limit(system: PreservativeSystem, member: str, side: Side, bound: float) -> Requirement:
    """Return one end of a preservative's window in its system as a requirement."""
    tail = f"% w/w, in {system.name}"
    return Requirement(
        key=Key("system", (member, system.name), side),
        title=limit_title(member, side, bound, tail),
        origin="library",
        measure=f"material:{member}",
        side=side,
        bound=bound,
        unit="% w/w",
        label=member,
        tail=tail,
        movable=False,
        subject=(member,),
        why=system.why,
        source=system.source,
    )


def _ends_of_use(polished: Polished) -> Iterator[Limit]:
    """Yield the materials at the upper end of a use range that no row holds: no choice stands between."""
    program, amounts, reduced = polished.program, polished.amounts, polished.reduced
    upper = program.form.upper[: program.size]
    for column in np.flatnonzero((amounts > 0) & (upper < FULL) & (amounts >= upper - CLEAR)).tolist():
        if len(program.uses[column]):
            continue
        material = program.library.materials[column]
        yield Limit(use_level(material, "at_most"), column=int(reduced.position[column]))
