"""Holds what a moved brief came to: a provisional formula at the last choices, then the proven best one."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from optiform.answers.describe.formula import describe
from optiform.answers.model.answer import Formula
from optiform.brief.models import Brief
from optiform.program import Program, at_strength, breaks
from optiform.search.fixed_choices import Polished, objective_of
from optiform.vectors import Floats


@dataclass(frozen=True, eq=False)
class Found:
    """A formula of a moved brief, or none.

    Attributes
    ----------
    brief : Brief
        As it stands after the move.
    stated : Program
        The brief as a program.
    strength : float  [mol per kg of water]
        The formula's own ionic strength.
    values : ndarray, shape (columns of the program,), optional
        The formula; absent where there is none.
    slack : float
        How far its bounds are relaxed, as in `Polished`.
    """

    brief: Brief = field(repr=False)
    stated: Program = field(repr=False)
    strength: float = 0.0
    values: Floats | None = field(default=None, repr=False)
    slack: float = 0.0

    @property
    def possible(self) -> bool:
        """Tell whether there is a formula."""
        return self.values is not None

    @cached_property
    def program(self) -> Program:
        """Return the program at the formula's own ionic strength."""
        return at_strength(self.stated, self.strength) if self.possible else self.stated

    @property
    def amounts(self) -> dict[str, float]:
        """Return the % w/w of each material in the formula, in the order of the library."""
        if self.values is None:
            return {}
        held = zip(self.stated.library.materials, self.values[: self.stated.size].tolist(), strict=True)
        return {material.id: percent for material, percent in held if percent > 0}

    @property
    def aim(self) -> float | None:
        """Return the aim in its own unit, as it is printed: more is better where it is maximised."""
        return self.figure(self.stated.aim.name)

    def figure(self, measure: str) -> float | None:
        """Return what a measure of the formula amounts to; None where there is no formula, or its data lack."""
        if self.values is None:
            return None
        return self.program.catalogue.find(measure).value(self.values[: self.stated.size])

    def formula(self) -> Formula | None:
        """Return the formula with everything that a reader may ask of it; None where there is none."""
        return None if self.values is None else describe(self.program, self.brief, self.values)

    def same(self, other: Found) -> bool:
        """Tell whether another formula of the same brief is this one, to the last digit."""
        return (
            self.stated is other.stated
            and self.strength == other.strength
            and self.values is not None
            and other.values is not None
            and np.array_equal(self.values, other.values)
        )

    def polished(self) -> Polished | None:
        """Return the formula as the ground for what-ifs, if it meets every row of the program."""
        if self.values is None or breaks(self.program, self.values):
            return None
        return Polished(self.program, self.values, objective_of(self.program, self.values), self.slack)


@dataclass(frozen=True, eq=False)
class Provisional(Found):
    """The best formula with the choices of the last one kept, or that these are impossible now; nothing is proven."""


@dataclass(frozen=True, eq=False)
class Proven(Found):
    """The best formula of a moved brief.

    Attributes
    ----------
    status : str
        solved, conflict (nothing meets the brief: proven as well), or stopped before that was known.
    proven : bool
        Whether no other formula is better, or none is possible.
    """

    status: Literal["solved", "conflict", "stopped"] = "stopped"
    proven: bool = False
