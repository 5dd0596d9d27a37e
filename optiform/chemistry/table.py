"""The charges of many substances at one pH, as arrays."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optiform.chemistry.activity import DEBYE_HUECKEL_A, checked_pH, debye_hueckel_term
from optiform.chemistry.charge import LN10, Titratable
from optiform.chemistry.ionic import FREE_COUNTER_IONS, strong_square_charge

__all__ = ["ChargeTable", "charges_per_gram"]


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
        self.known: NDArray[np.bool_] = np.array([one is not None for one in self.substances], dtype=np.bool_)
        size = len(self.substances)
        self._fixed = np.zeros(size)
        self._counter_ions = np.zeros(size)
        self._permanent_ions = np.zeros(size)
        mixed: list[tuple[int, Titratable]] = []
        for row, one in enumerate(self.substances):
            if one is None:
                continue
            self._fixed[row] = (one.strong_charge + one.charge_acid_form) / one.molar_mass
            self._counter_ions[row] = 0.5 * strong_square_charge(one) / one.molar_mass
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

    def rows(self, indices: NDArray[np.intp]) -> "ChargeTable":
        """Tell the table of some of the substances only.

        Parameters
        ----------
        indices : ndarray of int, shape (m,)
            Positions of the substances to keep, in the order wanted.

        Returns
        -------
        ChargeTable
            A table of m substances.
        """
        return ChargeTable([self.substances[index] for index in indices])

    def at(self, pH: float, ionic_strength: float) -> NDArray[np.float64]:
        """Tell the charge that a gram of each substance brings.

        Parameters
        ----------
        pH : float
            pH as a meter shows it [-].
        ionic_strength : float
            Ionic strength [mol/kg water].

        Returns
        -------
        ndarray, shape (n,)
            Charge, counter-ions included [meq/g].

        Raises
        ------
        ValueError
            If pH or ionic strength is out of bounds.
        """
        fractions = self._fractions(pH, ionic_strength)
        charges = self._fixed.copy()
        charges[self._rows] -= (fractions @ self._lost) / self._mass
        return np.asarray(1000.0 * charges)

    def slope(self, pH: float, ionic_strength: float) -> NDArray[np.float64]:
        """Tell how fast those charges change with pH, at a fixed ionic strength.

        Parameters
        ----------
        pH : float
            pH as a meter shows it [-].
        ionic_strength : float
            Ionic strength [mol/kg water].

        Returns
        -------
        ndarray, shape (n,)
            d(charge)/d(pH), zero or negative [meq/g per pH unit].

        Raises
        ------
        ValueError
            If pH or ionic strength is out of bounds.
        """
        fractions = self._fractions(pH, ionic_strength)
        mean = fractions @ self._lost
        variance = np.sum(fractions * (self._lost - mean.reshape(-1, 1)) ** 2, axis=1)
        slopes = np.zeros(len(self))
        slopes[self._rows] = -1000.0 * LN10 * variance / self._mass
        return slopes

    def ionic_terms(
        self, pH: float, ionic_strength: float, surfactant_mask: NDArray[np.bool_] | None = None
    ) -> NDArray[np.float64]:
        """Tell what a gram of each substance adds to the ionic strength.

        Parameters
        ----------
        pH : float
            pH as a meter shows it [-].
        ionic_strength : float
            Ionic strength at which the forms are in balance [mol/kg water].
        surfactant_mask : ndarray of bool, shape (n,), optional
            True for substances that sit in micelles: only `FREE_COUNTER_IONS` of their counter-ions count.
            Absent: none.

        Returns
        -------
        ndarray, shape (n,)
            1/2 sum(n z^2) over the ions of a gram [mol/g]. The ionic strength of a mixture is the sum of
            grams times terms, divided by its kilograms of water, plus that of free H+ and OH-.

        Raises
        ------
        ValueError
            If pH or ionic strength is out of bounds.
        """
        fractions = self._fractions(pH, ionic_strength)
        own_ions = self._permanent_ions.copy()
        own_ions[self._rows] = 0.5 * np.sum(fractions * self._squares, axis=1) / self._mass
        terms = own_ions + self._counter_ions
        if surfactant_mask is None:
            return np.asarray(terms)
        return np.where(surfactant_mask, FREE_COUNTER_IONS * self._counter_ions, terms)

    def _fractions(self, pH: float, ionic_strength: float) -> NDArray[np.float64]:
        """Fraction of each titratable substance by protons lost, shape (titratable, most steps + 1)."""
        activity = debye_hueckel_term(ionic_strength) * self._activity
        logs = LN10 * (checked_pH(pH) * self._lost - self._pka_sum - activity)
        if logs.shape[0] == 0:
            return np.zeros_like(logs)
        weights = np.exp(logs - logs.max(axis=1, keepdims=True))
        return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def charges_per_gram(
    substances: Sequence[Titratable | None], pH: float, ionic_strength: float
) -> NDArray[np.float64]:
    """Tell the charge that a gram of each of many substances brings.

    Parameters
    ----------
    substances : sequence of Titratable or None, length n
        The substances; None carries no charge.
    pH : float
        pH as a meter shows it [-].
    ionic_strength : float
        Ionic strength [mol/kg water].

    Returns
    -------
    ndarray, shape (n,)
        Charge, counter-ions included [meq/g].

    Raises
    ------
    ValueError
        If pH or ionic strength is out of bounds.
    """
    return ChargeTable(substances).at(pH, ionic_strength)
