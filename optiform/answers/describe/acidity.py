"""Tells the pH of a formula over its likely lots, and the acid or base that brings them into its window."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.answers.describe.likely_lots import LikelyLots, likely_lots
from optiform.answers.model.answer import Acidity, Dose
from optiform.brief.models import Brief
from optiform.chemistry.spread import Z_95
from optiform.library.models import Library, Material
from optiform.measures.acidity import BUFFER_CAPACITY, HIGHEST_PH, LOWEST_PH, charge_curves
from optiform.measures.uncharged import working_window
from optiform.program import USED, Key, Program, breaks, complete
from optiform.vectors import Floats

TOLD = 0.01
"""A material that brings less than this part of the spread is not named."""
MET = 1e-4
"""A pH that misses the window by no more stands in it."""


def acidity_of(program: Program, brief: Brief, amounts: Floats) -> Acidity | None:
    """Return the pH of a formula with its spread and its doses, or None where no pH can be told.

    Parameters
    ----------
    program : Program
        What a further acid or base must not break.
    amounts : ndarray, shape (n,)  [% w/w]

    Notes
    -----
    The range of a dose answers: between which amounts does the middle 90 % of likely lots reach the pH that is aimed
    at (the formula's own where that lies in the window, else the middle of the window)? Water makes room for it. An
    acid or base that the formula lacks and more than 5 % of likely lots need is named as well, to have ready.
    """
    library = program.library
    settled = charge_curves(library).settle(amounts)
    if settled is None:
        return None
    lots = likely_lots(library, amounts, settled.ionic_strength)
    wash = _Wash(program, amounts, settled.ionic_strength, *_window(library, brief, amounts), settled.pH)
    place = library.arrays.material_index
    setters = [
        int(i) for i in np.flatnonzero(amounts > 0) if library.materials[i].function in ("acid", "base")
    ]
    doses = tuple(wash.dose(index, lots) for index in setters)
    undosed = charge_curves(library).settle(wash.without(setters)) if setters else None
    ready = wash.ready(setters, lots)
    capacity = program.catalogue.find(BUFFER_CAPACITY).value(amounts)
    return Acidity(
        pH=settled.pH,
        low=min(lots.pH(-Z_95), settled.pH),
        high=max(lots.pH(Z_95), settled.pH),
        ionic_strength=settled.ionic_strength,
        held=settled.held,
        undosed_pH=None if undosed is None else undosed.pH,
        doses=doses,
        have_ready=ready,
        reserve=max((0.0, *(dose.high - float(amounts[place[dose.material]]) for dose in (*doses, *ready)))),
        buffer_capacity=settled.buffer_capacity if capacity is None else capacity,
        spread_from=tuple(item for item in lots.brought(settled.pH) if item[1] >= TOLD),
    )


@dataclass(frozen=True, eq=False)
class _Wash:
    """A formula with the pH window in which its lots belong.

    Attributes
    ----------
    low, high : float
        The brief's window, or where everything in the formula works; 0 and 14 where nothing says.
    pH : float
        The computed one.
    """

    program: Program = field(repr=False)
    amounts: Floats = field(repr=False)
    strength: float
    low: float
    high: float
    pH: float

    @property
    def water(self) -> int:
        """Return the position of the water."""
        return self.program.library.arrays.material_index[self.program.library.water.id]

    @property
    def aim(self) -> float:
        """Return the pH that the meter is to show."""
        if self.low - MET <= self.pH <= self.high + MET:
            return self.pH
        if self.low > LOWEST_PH and self.high < HIGHEST_PH:
            return 0.5 * (self.low + self.high)
        return self.low if self.pH < self.low else self.high

    def dose(self, index: int, lots: LikelyLots) -> Dose:
        """Return how much of an acid or base brings the middle 90 % of lots to the pH aimed at."""
        counts = charge_curves(self.program.library).at(self.aim, self.strength)
        per_percent = float(counts[index] - counts[self.water])
        here = float(self.amounts[index])
        likely = (lots.charge(self.aim, -Z_95), lots.typical(self.aim), lots.charge(self.aim, Z_95))
        needs = [max(here - charge / per_percent, 0.0) for charge in likely]
        typical = here or (0.0 if self.aim == self.pH else needs[1])
        material = self.program.library.materials[index]
        return Dose(material.id, typical, min(needs), max(needs), material.name)

    def ready(self, setters: list[int], lots: LikelyLots) -> tuple[Dose, ...]:
        """Return the acid and the base that stand beside the formula; none where none is needed, or none is allowed.

        An acid is needed where more than 5 % of likely lots stand above the window even without the base of the
        formula, a base where more than 5 % stand below it even without its acid.
        """
        library = self.program.library
        bare = self.without(setters)
        left = lots if bare is self.amounts else likely_lots(library, bare, self.strength)
        functions = {library.materials[index].function for index in setters}
        needed = {
            "acid": self.high < HIGHEST_PH and left.charge(self.high, Z_95) > 0,
            "base": self.low > LOWEST_PH and left.charge(self.low, -Z_95) < 0,
        }
        found = (
            self._cheapest(word, lots) for word, asked in needed.items() if asked and word not in functions
        )
        return tuple(dose for dose in found if dose is not None)

    def without(self, indices: list[int]) -> Floats:
        """Return the amounts without some materials, water in their place."""
        if not indices:
            return self.amounts
        bare = self.amounts.copy()
        bare[self.water] += bare[indices].sum()
        bare[indices] = 0.0
        return bare

    def _cheapest(self, function: str, lots: LikelyLots) -> Dose | None:
        """Return the cheapest material of a function that breaks no choice of the brief, the library or the law."""
        library = self.program.library
        charge = charge_curves(library).at(self.aim, self.strength)
        curves, sign = charge_curves(library), -1.0 if function == "acid" else 1.0
        found = []
        for index in np.flatnonzero(library.arrays.is_function(function) & ~curves.unknown):
            if self.amounts[index] > 0 or sign * (charge[index] - charge[self.water]) <= 0:
                continue
            dose = self.dose(int(index), lots)
            material = library.materials[index]
            if USED <= dose.high <= min(material.max_use, self.amounts[self.water]):
                found.append((dose.high * material.price, material.id, dose))
        taken = self._broken(self.amounts)
        for _, _, dose in sorted(found, key=lambda item: item[:2]):
            if self._broken(self._with(library.material[dose.material], dose)) <= taken:
                return dose
        return None

    def _with(self, material: Material, dose: Dose) -> Floats:
        index = self.program.library.arrays.material_index[material.id]
        trial = self.amounts.copy()
        amount = max(dose.high, material.min_if_used)
        trial[index], trial[self.water] = amount, trial[self.water] - amount
        return trial

    def _broken(self, amounts: Floats) -> set[Key]:
        """Return the choices, use ranges and legal limits that a formula breaks."""
        found = (item.requirement for item in breaks(self.program, complete(self.program, amounts)))
        return {asked.key for asked in found if asked.choice or asked.origin == "law"}


def _window(library: Library, brief: Brief, amounts: Floats) -> tuple[float, float]:
    """Return the pH window of the brief, or that in which everything in the formula works."""
    target = brief.targets.get("pH")
    if target is not None:
        ends = (target.at_least, target.at_most)
    else:
        ends = working_window(library, amounts, (library.rules, brief.rules))
    low = LOWEST_PH if ends[0] is None else ends[0]
    high = HIGHEST_PH if ends[1] is None else ends[1]
    return (low, high) if low <= high else (LOWEST_PH, HIGHEST_PH)
