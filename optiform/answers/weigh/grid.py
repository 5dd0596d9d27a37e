"""The steps of a balance, and what is weighed in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import numpy as np

from optiform.program import Program
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats

Closeness = Literal["none", "least", "most"]
CLOSENESS: tuple[Closeness, ...] = ("none", "least", "most")
"""How near an equality is held: exactly, or within half a step of the item that moves it least, or most."""


@dataclass(frozen=True)
class Grid:
    """The steps in which a batch is weighed.

    Attributes
    ----------
    batch_g, balance_g : float  [g]
    total : int
        Steps in the whole batch.
    least : int
        Fewest steps that are weighed within the error allowed.
    """

    batch_g: float
    balance_g: float
    error_percent: float
    total: int
    least: int

    @property
    def step(self) -> float:
        """Return one step [% w/w]."""
        return 100.0 / self.total

    def grams(self, steps: int) -> float:
        """Return the grams of a number of steps, as the balance shows them."""
        return float(Decimal(str(self.balance_g)) * steps)


def grid_of(batch_g: float, balance_g: float, error_percent: float) -> Grid | None:
    """Return the grid of a batch on a balance, or None where the batch is no whole number of its steps.

    Notes
    -----
    An amount m weighed to half a step d / 2 is off by (d / 2) / m at most, so the least amount is
    (d / 2) / error (arithmetic of the reading; what else a balance adds is not in it).
    """
    total = Decimal(str(batch_g)) / Decimal(str(balance_g))
    if total != total.to_integral_value() or total < 1:
        return None
    least = Decimal(50) / Decimal(str(error_percent))
    return Grid(
        batch_g, balance_g, error_percent, int(total), max(1, int(least.to_integral_value("ROUND_CEILING")))
    )


@dataclass(frozen=True, eq=False)
class Items:
    """What is weighed: materials as they are, or as stock solutions in water.

    Attributes
    ----------
    materials : ndarray of int, shape (k,)
        Position of the material of each item.
    strength : ndarray, shape (k,)  [g/g]
        1 for the material itself, less for its solution.
    water : int
        Position of the water.
    """

    materials: np.ndarray
    strength: Floats
    water: int

    def spread(self, per_material: Floats) -> Floats:
        """Return a property of 1 % w/w of each item from that of each material, shape (..., k)."""
        own = per_material[..., self.materials] * self.strength
        solvent = per_material[..., self.water]
        return np.asarray(own + np.expand_dims(solvent, -1) * (1.0 - self.strength), dtype=float)

    def amounts(self, percent: Floats, size: int) -> Floats:
        """Return % w/w of each material from % w/w of each item, shape (size,)."""
        found = np.bincount(self.materials, weights=percent * self.strength, minlength=size).astype(float)
        found[self.water] += float(percent @ (1.0 - self.strength))
        return found


def items_of(program: Program, values: Floats, stocks: Mapping[str, float]) -> Items:
    """Return what is weighed for a formula; `stocks` names solutions and their strength in %."""
    amounts = values[: program.size]
    index = program.library.arrays.material_index
    used = np.flatnonzero(amounts > ROUNDING)
    names = [program.library.materials[i].id for i in used]
    strength = np.array([stocks.get(name, 100.0) / 100.0 for name in names])
    return Items(used, strength, index[program.library.water.id])
