"""The charge balance of one mixture, and the ionic strength that agrees with it."""

import math
from collections.abc import Callable

import numpy as np

from optiform.chemistry.activity import IONIC_STRENGTH_LIMIT, checked_pH
from optiform.chemistry.contents import Mixture, NoWaterError
from optiform.chemistry.roots import falling_root
from optiform.chemistry.table import ChargeTable
from optiform.chemistry.water import water_charge_per_gram, water_charge_slope, water_ions
from optiform.tolerances import LAST_DIGITS


class Balance:
    """Charge, slope and ionic strength of one mixture, over the substances that it really contains."""

    def __init__(self, mixture: Mixture, table: ChargeTable) -> None:
        if len(table) != len(mixture.grams):
            raise ValueError(f"{len(mixture.grams)} masses for a table of {len(table)} substances")
        if mixture.water <= 0.0:
            raise NoWaterError("the mixture contains no water, so it has no pH")
        under = mixture.grams_under_curves
        ionic = mixture.grams if under is None else mixture.grams + under
        present = np.flatnonzero(ionic)
        self._table = table.rows(present)
        self._grams = mixture.grams[present]
        self._ionic_grams = ionic[present]
        self._surfactant = None if mixture.surfactant is None else mixture.surfactant[present]
        self._water = mixture.water
        self._free_alkali = mixture.free_alkali
        self._curves = mixture.curves

    def charge(self, pH: float, strength: float) -> float:
        """Return the total charge [meq per 100 g]."""
        substances = float(self._grams @ self._table.at(pH, strength))
        bench = math.fsum(curve.charge_at(pH) * grams / 1000.0 for curve, grams in self._curves)
        return substances + bench + self._free_alkali + self._water * water_charge_per_gram(pH, strength)

    def slope(self, pH: float, strength: float) -> float:
        """Change of the total charge with pH [meq per 100 g per pH unit]."""
        substances = float(self._grams @ self._table.slope(pH, strength))
        bench = math.fsum(curve.slope_at(pH) * grams / 1000.0 for curve, grams in self._curves)
        return substances + bench + self._water * water_charge_slope(pH, strength)

    def ionic_strength(self, pH: float, strength: float, added: float = 0.0) -> float:
        """Ionic strength [mol/kg water] with `added` meq per 100 g of further monovalent ions."""
        substances = float(self._ionic_grams @ self._table.ionic_terms(pH, strength, self._surfactant))
        strong = 0.5 * (abs(self._free_alkali) + abs(added)) / 1000.0
        return 1000.0 * (substances + strong) / self._water + 0.5 * sum(water_ions(pH, strength))


def standstill(outcome: Callable[[float], float]) -> float:
    """Ionic strength that brings forth itself; beyond the limit, what comes forth at the limit [mol/kg]."""
    at_limit = outcome(IONIC_STRENGTH_LIMIT)
    if at_limit > IONIC_STRENGTH_LIMIT:
        return at_limit
    return falling_root(lambda trial: outcome(trial) - trial, 0.0, IONIC_STRENGTH_LIMIT, LAST_DIGITS)


def set_strength(balance: Balance, pH: float) -> float:
    """Ionic strength once strong acid or base has set the pH [mol/kg water]."""
    checked_pH(pH)
    return standstill(lambda trial: balance.ionic_strength(pH, trial, balance.charge(pH, trial)))
