"""Tells what a formula is today, and what of it is held while one thing gets better."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np

from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.library.selection import select
from optiform.library.working_range import pH_range
from optiform.measures import Catalogue
from optiform.measures.acidity import charge_curves
from optiform.measures.parts import CHARGE_CLASSES
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats

KEPT = (
    "thickener", "extract", "hydrosol", "preservative", "chelator", "fragrance", "colourant", "opacifier",
    "conditioner", "powder",
)  # fmt: skip
"""Functions that carry the claim, the texture and the safety of a wash: never what a saving is made of."""

CLAIMS = (
    "sulfate", "ethoxylated", "silicone", "microplastic", "formaldehyde-releaser", "isothiazolinone", "paraben",
    "animal", "nut", "gluten", "palm",
)  # fmt: skip
"""Tags that a label is silent about only as long as they are absent."""

FOLLOWING = {"acid", "base"}
NOT_KEPT = (*sorted(FOLLOWING), "water")
HELD_OTHERWISE = (*NOT_KEPT, "preservative", "surfactant")
"""Functions that follow, whose system is chosen, or whose active matter is held."""

STRENGTH, PH, SHARE = 0.2, 0.2, 10.0
"""Allowances: active matter [% w/w], pH, share of a charge class [points]."""

AMOUNT = 0.1
"""A function that may move is held within so large a part of its amount; our choice."""

LARGEST_SHARE = 65.0


@dataclass(frozen=True)
class CurrentFormula:
    """A formula as it is, and what of it is held while it changes."""

    formula: TypedFormula
    library: Library

    @property
    def amounts(self) -> Floats:
        """Return the amounts, shape (n,)  [% w/w]."""
        return self.library.arrays.amounts(self.formula.lines)

    @property
    def used(self) -> list[str]:
        """Return the ids of what is in it."""
        return [name for name, percent in self.formula.lines if percent > 0]

    def value(self, measure: str) -> float | None:
        """Return a measure of it."""
        return Catalogue(self.library).find(measure).value(self.amounts)

    def percent(self, name: str) -> float:
        """Return the amount of a material [% w/w]."""
        return float(self.amounts[self.library.arrays.material_index[name]])

    def inside(self, name: str) -> float:
        """Return the amount of a material, or the nearest that its use range allows."""
        material = self.library.material[name]
        return min(max(self.percent(name), material.min_if_used), material.max_use)

    def kept(self) -> list[str]:
        """Return what is kept to the gram: the claim, the texture, and a preservation that is complete."""
        functions = [word for word in KEPT if word != "preservative" or self.preserved()]
        return [name for name in self.used if self.library.material[name].function in functions]

    def preserved(self) -> bool:
        """Tell whether the preservatives are those of one complete system, within its windows."""
        used = {name: self.percent(name) for name in self.used}
        there = {name for name in used if self.library.material[name].function == "preservative"}
        return not self.library.systems or any(
            there <= set(system.members)
            and all(low <= used.get(name, 0.0) <= high for name, (low, high) in system.members.items())
            for system in self.library.systems
        )

    def hold(self) -> dict[str, float]:
        """Return the measures that are held, with their allowances."""
        found = {"active matter": STRENGTH}
        found |= dict.fromkeys(self.shares(), SHARE)
        if self.pH is not None and not self.charge_unknown and self.working_pH() is None:
            found["pH"] = PH
        return found

    def functions(
        self, keep: Collection[str], banned: Collection[str], targets: Collection[str]
    ) -> dict[str, float]:
        """Return what is held of each function that is not kept to the gram: a wash with oil stays one with oil."""
        loose: dict[str, tuple[float, float]] = {}
        for name in self.used:
            function = self.library.material[name].function
            told = function in HELD_OTHERWISE or (function == "thickener" and "viscosity" in targets)
            if name not in keep and not told:
                amount, off = loose.get(function, (0.0, 0.0))
                here = self.percent(name)
                loose[function] = (amount + here, off + abs(here - self.inside(name)))
        left = {word for item in self.library.materials if item.id not in banned for word in item.functions}
        return {
            f"function:{function}": round(max(AMOUNT * amount, off, 0.01), 4)
            for function, (amount, off) in loose.items()
            if function in left
        }

    def shares(self) -> list[str]:
        """Return the charge classes that the formula has, as shares of its active matter."""
        names = [f"share:{word}" for word in CHARGE_CLASSES]
        return [name for name in names if (self.value(name) or 0.0) > 0]

    @property
    def pH(self) -> float | None:
        """Return its pH, or None where there is none."""
        settled = charge_curves(self.library).settle(self.amounts)
        return None if settled is None else settled.pH

    @property
    def charge_unknown(self) -> bool:
        """Tell whether the pH cannot be told because data lack."""
        return bool(np.any(charge_curves(self.library).unknown & (self.amounts > 0)))

    def targets(self) -> dict[str, dict[str, Any]]:
        """Return the floors and the pH that are asked of the new formula."""
        found: dict[str, dict[str, Any]] = {}
        full = self.amounts * 100.0 / (self.formula.total or 100.0)
        for name in ("mildness", "natural origin"):
            value = Catalogue(self.library).find(name).value(full)
            if value is not None:
                found[name] = {"at_least": float(math.floor(value + ROUNDING))}
        if self.charge_unknown:
            low, high = self.room_for_pH()
            ends = {"at_least": low, "at_most": high}
            asked: dict[str, Any] = {side: round(end, 2) for side, end in ends.items() if 0.0 < end < 14.0}
            return {**found, "pH": {**asked, "set": "bench"}} if asked and low <= high else found
        working = self.working_pH()
        if working is not None:
            found["pH"] = {"at_least": round(working[0], 2), "at_most": round(working[1], 2)}
        return found

    def working_pH(self) -> tuple[float, float] | None:
        """Return the nearest pH at which all works that preserves or is kept, where today's is outside of it."""
        (low, high), pH = self.room_for_pH(), self.pH
        if pH is None or low > high or low <= pH <= high:
            return None
        return (low, min(low + 2.0 * PH, high)) if pH < low else (max(high - 2.0 * PH, low), high)

    def room_for_pH(self) -> tuple[float, float]:
        """Return the lowest and highest pH at which all works that preserves or is kept, and every rule on it holds."""
        used, library = set(self.used), self.library
        systems = [
            system
            for system in library.systems
            if used & set(system.members)
            and all(name in used for name, (least, _) in system.members.items() if least > 0)
        ]
        working = {*self.kept(), library.water.id} & used
        low, high = pH_range(library, used, working, systems, [library.rules], self.staying())
        return 0.0 if low is None else low, 14.0 if high is None else high

    def staying(self) -> list[list[str]]:
        """Return the ids of every function that stays, whichever material serves it: today's own may change."""
        found = {self.library.material[name].function for name in self.used} - FOLLOWING
        return [[m.id for m in self.library.materials if m.function == word] for word in sorted(found)]

    def absent(self) -> list[dict[str, str]]:
        """Return what the formula is free from today, for sure."""
        found = []
        for tag in CLAIMS:
            chosen = select(self.library, "tag", tag)
            if (chosen.sure or chosen.maybe) and not set(self.used) & {*chosen.sure, *chosen.maybe}:
                found.append({"tag": tag})
        return found

    def surfactants(self) -> list[str]:
        """Return the ids of its surfactants."""
        return [name for name in self.used if self.library.material[name].function == "surfactant"]

    def choose(self) -> list[dict[str, Any]]:
        """Return how many surfactants the new formula may have."""
        count = len(self.surfactants())
        return (
            [{"function": "surfactant", "at_least": min(count, 2), "at_most": max(count + 1, 4)}]
            if count
            else []
        )

    def share(self) -> list[dict[str, Any]]:
        """Return the cap on each single surfactant."""
        if len(self.surfactants()) < 2:
            return []
        held = {part.inci for name in self.surfactants() for part in self.library.composition[name]}
        shares = [
            self.value(f"share:{inci}") or 0.0 for inci in held if self.library.substance[inci].charge_class
        ]
        return [
            {"each": "surfactant", "at_most": float(max(LARGEST_SHARE, math.ceil(max(shares, default=0.0))))}
        ]
