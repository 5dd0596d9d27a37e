"""Holds a formula in whole steps of a balance, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optiform.program import Requirement

DROPS_PER_ML = 20.0
"""Drops of a watery liquid in 1 mL; common practice, no source: count yours into a tared cup."""

WayKind = Literal["finer balance", "larger batch", "stock solution"]


@dataclass(frozen=True)
class Drops:
    """An amount of acid or base as drops of a solution.

    Attributes
    ----------
    solution_percent : float, optional  [% w/w]
        Strength of the solution to make of the material; None where the material itself is dropped.
    solution_g : float  [g]
    water_g : float  [g]
        Water that comes with the solution: hold it back from the batch.
    density : float, optional  [g/mL]
        None where it is not known and 1 was taken.
    """

    solution_percent: float | None
    solution_g: float
    water_g: float
    drops: float
    density: float | None


@dataclass(frozen=True)
class Stock:
    """A stock solution: its strength, how to make it, and how much of it the batch takes.

    Attributes
    ----------
    percent : float  [% w/w]
    material_g, water_g : float  [g]
        Weigh these together: the least that this balance makes well.
    use_g : float  [g]
    """

    material: str
    name: str
    percent: float
    material_g: float
    water_g: float
    use_g: float


@dataclass(frozen=True)
class WeighedLine:
    """One thing to weigh.

    Attributes
    ----------
    grams : float  [g]
    percent : float  [% w/w]
        Of the batch; of a solution, the solution as it is weighed.
    solution : float, optional  [% w/w]
        Strength, where the line is a stock solution.
    drops : Drops, optional
        What an acid or base comes to in drops, for a small trial.
    """

    material: str
    name: str
    grams: float
    percent: float
    solution: float | None = None
    drops: Drops | None = None


@dataclass(frozen=True)
class NearlyEqual:
    """An equality that no grid can meet: what it asks, and what the weighed amounts have."""

    requirement: Requirement
    bound: float | None
    value: float | None


@dataclass(frozen=True)
class Weighable:
    """Amounts in whole steps of the balance that add up to the batch and hold everything.

    Attributes
    ----------
    least_g : float  [g]
        The least amount that is weighed within the error allowed.
    aim, cost : float
        Of the weighed amounts.
    rounding : float
        What weighing in steps adds to the aim (less is better), in its unit.
    cost_of_rounding : float  [currency/kg]
    percents : tuple of (material id, % w/w)
        The formula that results, stock solutions taken apart.
    """

    batch_g: float
    balance_g: float
    error_percent: float
    least_g: float
    aim: float
    cost: float
    currency: str
    rounding: float
    cost_of_rounding: float
    lines: tuple[WeighedLine, ...]
    percents: tuple[tuple[str, float], ...] = ()
    stocks: tuple[Stock, ...] = ()
    off: tuple[NearlyEqual, ...] = ()
    drops_per_mL: float = DROPS_PER_ML


@dataclass(frozen=True)
class TooLight:
    """A material of which the batch takes less than the balance weighs well [g]."""

    material: str
    name: str
    grams: float


@dataclass(frozen=True)
class Way:
    """Something that makes the amounts weighable, solved again as printed."""

    kind: WayKind
    batch_g: float
    balance_g: float
    stocks: tuple[Stock, ...] = ()


@dataclass(frozen=True)
class NotWeighable:
    """Why no amounts of this batch on this balance hold everything, and the ways out; in time not `complete`."""

    batch_g: float
    balance_g: float
    error_percent: float
    least_g: float
    too_light: tuple[TooLight, ...] = ()
    off_grid: bool = False
    ways: tuple[Way, ...] = ()
    complete: bool = True
