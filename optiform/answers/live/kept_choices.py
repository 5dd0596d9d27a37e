"""Solves a brief with moved bounds at the choices of a known formula, as a live continuous program."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from optiform.search.fixed_choices import FixedChoices, same_choices, ties_of
from optiform.tolerances import HALF

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.vectors import Floats


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
                self._live[slack] = FixedChoices(self.program, self.values, self._ties, slack)
            with self._live[slack].moved(bounds) as possible:
                found = self._live[slack].confirmed(self.brief.aim.tie) if possible else None
            if found is not None:
                return Kept(found[0], found[1], slack)
        return None

    def are(self, values: Floats) -> bool:
        """Tell whether a solution of a program with the same columns has these choices."""
        return same_choices(self.program, self.values, values)
