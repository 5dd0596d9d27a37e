"""The best formula at the choices of a known one, with bounds moved: a continuous program that stays live."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from optiform.answers.live.changes import Bound
from optiform.program.rows.moves import MeasureMove
from optiform.search.fixed_choices import FixedChoices, same_choices, ties_of
from optiform.tolerances import HALF

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.answers.live.changes import Change
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.program import Program, Requirement

SECTIONS = ("targets", "include", "share", "ratio")
"""Where a wish is that a row of its own holds, so that its bound moves in place."""


@dataclass(frozen=True, eq=False)
class Kept:
    """A formula at kept choices.

    Attributes
    ----------
    strength : float  [mol per kg of water]
        Its own ionic strength.
    values : ndarray, shape (columns,)
    slack : float
        How far its bounds are relaxed, as in `Polished`.
    """

    strength: float
    values: Floats = field(repr=False)
    slack: float


class KeptChoices:
    """The choices of one formula of a program, solved again and again in live sessions.

    Parameters
    ----------
    brief, program
        As they were built.
    values : ndarray, shape (columns,)
        Whose choices are kept.
    """

    def __init__(self, brief: Brief, program: Program, values: Floats) -> None:
        self.brief, self.program, self.values = brief, program, values
        self._ties = ties_of(program, brief.aim.then)
        self._live: dict[float, FixedChoices] = {}

    def best(self, bounds: Mapping[int, float]) -> Kept | None:
        """Return the best formula with requirements at other bounds.

        None where the choices cannot meet them, whether bounds are held exactly or within the tolerance.
        """
        for slack in (0.0, HALF):
            if slack not in self._live:
                self._live[slack] = FixedChoices(self.program, self.values, self._ties, slack, arrays=True)
            with self._live[slack].moved(bounds) as possible:
                found = self._live[slack].confirmed(self.brief.aim.tie) if possible else None
            if found is not None:
                return Kept(found[0], found[1], slack)
        return None

    def are(self, values: Floats) -> bool:
        """Tell whether a solution of a program with the same columns has these choices."""
        return same_choices(self.program, self.values, values)


def in_place(program: Program, change: Change, moved: Brief) -> tuple[int, float] | None:
    """Return which requirement a change moves, by its position, and to which bound; None where it does more than that.

    A count, a pH, a side that comes or goes, and an amount that begins or ceases to be asked for change which rows
    there are. So does any target where a soft wish, or the certainty of lots, follows it.
    """
    if not isinstance(change, Bound) or change.to is None or moved.prefer:
        return None
    index = program.index_of.get(change.key)
    if index is None or change.key.section not in SECTIONS:
        return None
    requirement = program.requirements[index]
    if requirement.measure == "pH" or requirement.side == "equal" or _opposite(moved, change) == change.to:
        return None
    if change.key.section == "include" and (change.to == 0) != (requirement.bound == 0):
        return None
    return (index, change.to) if _by_measure(program, index, requirement) else None


def _by_measure(program: Program, index: int, requirement: Requirement) -> bool:
    """Tell whether rows that bound a measure of amounts are all that a requirement has."""
    moves = program.moves.get(index, ())
    rows = {row for row, _ in moves}
    return (
        bool(moves)
        and all(isinstance(move, MeasureMove) and move.side == requirement.side for _, move in moves)
        and rows == set(program.rows_of[index].tolist())
    )


def _opposite(brief: Brief, change: Bound) -> float | None:
    """Return the other side of the wish that a change moves."""
    side = "at_most" if change.key.side == "at_least" else "at_least"
    key = change.key
    held = brief.targets[key.name] if key.section == "targets" else getattr(brief, key.section)[key.entry - 1]
    other: float | None = getattr(held, side)
    return other
