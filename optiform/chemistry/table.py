"""The charges of many substances at one pH, and what they add to the ionic strength, as arrays.

I = 1/2 sum(m z^2), per kg of water. Ions of buffers and salts count in full. Of a surfactant only the free part of its
counter-ions counts: the surfactant ions sit in micelles together with the rest of their counter-ions. Counter-ions that
a surfactant takes over from an acid or base added later are counted in full, with that acid or base: the ionic strength
comes out slightly high for acyl glutamates and their like.

References
----------
.. [1] J. Phys. Chem. B 109 (2005), issue 33, doi 10.1021/jp050597a, abstract: degree of counter-ion
   dissociation of tetramethylammonium dodecyl sulfate micelles 0.33 by NMR, 0.2 by conductivity. The
   rounded 0.3 is our choice.
"""

from collections.abc import Sequence

import numpy as np

from optiform.chemistry.activity import DEBYE_HUECKEL_A, checked_pH, debye_hueckel_term
from optiform.chemistry.charge import LN10, Titratable
from optiform.vectors import Flags, Floats, Indices

FREE_COUNTER_IONS = 0.3
"""Part of a surfactant's counter-ions that is free of its micelles [mol/mol], reference 1."""


class ChargeTable:
    """Charges, slopes and ionic terms of n substances, read off at any pH.

    Parameters
    ----------
    substances : sequence of Titratable or None, length n
        The substances in the caller's order; None for one that is neutral or unknown: it carries no charge.

    Attributes
    ----------
    substances : tuple of Titratable or None, length n
        The substances as given.
    known : ndarray of bool, shape (n,)
        True where acid-base data were given.

    Notes
    -----
    A step from charge z to z - 1 has the conditional pKa' = pKa + A D (2 z - 1), D the Debye-Hueckel factor. Summed
    over j steps that is sum(pKa) + A D (z0^2 - (z0 - j)^2), so that each pH costs one array expression.
    """

    def __init__(self, substances: Sequence[Titratable | None]) -> None:
        self.substances = tuple(substances)
        self.known: Flags = np.array([one is not None for one in self.substances], dtype=np.bool_)
        size = len(self.substances)
        self._fixed = np.zeros(size)
        self._counter_ions = np.zeros(size)
        self._permanent_ions = np.zeros(size)
        mixed: list[tuple[int, Titratable]] = []
        for row, one in enumerate(self.substances):
            if one is None:
                continue
            self._fixed[row] = (one.strong_charge + one.charge_acid_form) / one.molar_mass
            self._counter_ions[row] = 0.5 * abs(one.strong_charge * one.strong_ion_charge) / one.molar_mass
            if one.pka:
                mixed.append((row, one))
            else:
                self._permanent_ions[row] = 0.5 * one.charge_acid_form**2 / one.molar_mass
        self._rows = np.array([row for row, _ in mixed], dtype=np.intp)
        self._mass = np.array([one.molar_mass for _, one in mixed])
        steps = max((len(one.pka) for _, one in mixed), default=0)
        self._lost = np.arange(steps + 1, dtype=np.float64)
        # Steps that a substance does not have lie at an infinite pKa: never reached, no special case later.
        self._pka_sum = np.full((len(mixed), steps + 1), np.inf)
        start = np.array([one.charge_acid_form for _, one in mixed]).reshape(-1, 1)
        self._squares = (start - self._lost) ** 2
        corrected = np.array([not one.effective for _, one in mixed], dtype=np.float64).reshape(-1, 1)
        self._activity = DEBYE_HUECKEL_A * (start**2 - self._squares) * corrected
        for line, (_, one) in enumerate(mixed):
            self._pka_sum[line, : len(one.pka) + 1] = np.cumsum((0.0, *one.pka))

    def __len__(self) -> int:
        """Tell the number n of substances."""
        return len(self.substances)

    def rows(self, indices: Indices) -> "ChargeTable":
        """Tell the table of some of the substances only, by their positions and in that order."""
        return ChargeTable([self.substances[index] for index in indices])

    def at(self, pH: float, ionic_strength: float) -> Floats:
        """Tell the charge that a gram of each substance brings, counter-ions included, shape (n,)  [meq/g]."""
        fractions = self._fractions(pH, ionic_strength)
        charges = self._fixed.copy()
        charges[self._rows] -= (fractions @ self._lost) / self._mass
        return np.asarray(1000.0 * charges)

    def slope(self, pH: float, ionic_strength: float) -> Floats:
        """Tell how fast those charges change with pH, zero or negative, shape (n,)  [meq/g per pH unit].

        At a fixed ionic strength it is -ln 10 times the variance of the number of protons lost.
        """
        fractions = self._fractions(pH, ionic_strength)
        mean = fractions @ self._lost
        variance = np.sum(fractions * (self._lost - mean.reshape(-1, 1)) ** 2, axis=1)
        slopes = np.zeros(len(self))
        slopes[self._rows] = -1000.0 * LN10 * variance / self._mass
        return slopes

    def ionic_terms(self, pH: float, ionic_strength: float, surfactant_mask: Flags | None = None) -> Floats:
        """Tell what a gram of each substance adds to the ionic strength, 1/2 sum(n z^2), shape (n,)  [mol/g].

        The ionic strength of a mixture is the sum of grams times terms, divided by its kilograms of water, plus that of
        free H+ and OH-. Of the flagged substances, which sit in micelles, only `FREE_COUNTER_IONS` of the counter-ions
        count.
        """
        fractions = self._fractions(pH, ionic_strength)
        own_ions = self._permanent_ions.copy()
        own_ions[self._rows] = 0.5 * np.sum(fractions * self._squares, axis=1) / self._mass
        terms = own_ions + self._counter_ions
        if surfactant_mask is None:
            return np.asarray(terms)
        return np.where(surfactant_mask, FREE_COUNTER_IONS * self._counter_ions, terms)

    def _fractions(self, pH: float, ionic_strength: float) -> Floats:
        """Return the fraction of each titratable substance by protons lost, shape (titratable, most steps + 1)."""
        activity = debye_hueckel_term(ionic_strength) * self._activity
        logs = LN10 * (checked_pH(pH) * self._lost - self._pka_sum - activity)
        if logs.shape[0] == 0:
            return np.zeros_like(logs)
        weights = np.exp(logs - logs.max(axis=1, keepdims=True))
        return np.asarray(weights / weights.sum(axis=1, keepdims=True))
