"""What a moved brief came to: the formula at the choices of the last one, then the proven best one."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from optiform.answers.describe.formula import describe

if TYPE_CHECKING:
    from optiform.answers.model.answer import Formula
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.program import Program
    from optiform.search.fixed_choices import Polished


@dataclass(frozen=True, eq=False)
class Found:
    """A formula of a moved brief as amounts, or none.

    Attributes
    ----------
    brief : Brief
        As it stands after the move.
    program : Program
        At the ionic strength of the formula, where there is one.
    values : ndarray, shape (columns,), optional
        The formula; absent where there is none.
    """

    brief: Brief = field(repr=False)
    program: Program = field(repr=False)
    values: Floats | None = field(repr=False)

    @property
    def possible(self) -> bool:
        """Tell whether there is a formula."""
        return self.values is not None

    @property
    def amounts(self) -> dict[str, float]:
        """Return the % w/w of each material in the formula, in the order of the library."""
        if self.values is None:
            return {}
        held = zip(self.program.library.materials, self.values[: self.program.size].tolist(), strict=True)
        return {material.id: percent for material, percent in held if percent > 0}

    @property
    def aim(self) -> float | None:
        """Return the aim in its own unit, as it is printed: more is better where it is maximised."""
        return self.figure(self.program.aim.name)

    def figure(self, measure: str) -> float | None:
        """Return what a measure of the formula amounts to; None where there is no formula, or its data lack."""
        if self.values is None:
            return None
        return self.program.catalogue.find(measure).value(self.values[: self.program.size])


@dataclass(frozen=True, eq=False)
class Provisional(Found):
    """The best formula with the choices of the last one kept, or that these are impossible now; nothing is proven.

    Attributes
    ----------
    slack : float
        How far its bounds are relaxed, as in `Polished`.
    """

    slack: float = 0.0


@dataclass(frozen=True, eq=False)
class Proven(Found):
    """The best formula of a moved brief.

    Attributes
    ----------
    status : str
        solved, conflict (nothing meets the brief: proven as well), or stopped before that was known.
    proven : bool
        Whether no other formula is better, or none is possible.
    polished : Polished, optional
        The formula with the ground for what-ifs on it.
    """

    status: Literal["solved", "conflict", "stopped"]
    proven: bool
    polished: Polished | None = field(default=None, repr=False)

    def formula(self) -> Formula | None:
        """Return the formula with everything that a reader may ask of it; None where there is none."""
        return None if self.values is None else describe(self.program, self.brief, self.values)
