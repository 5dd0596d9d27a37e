"""The charge that water itself brings: free H+ and OH- at 25 C."""

import math

from optiform.chemistry.activity import PKW, checked_pH, log_gamma

__all__ = ["water_charge_per_gram", "water_charge_slope", "water_ions"]


def water_ions(pH: float, ionic_strength: float) -> tuple[float, float]:
    """Tell the molalities of free H+ and OH-.

    Parameters
    ----------
    pH : float
        pH as a meter shows it, -log10 of the proton's activity [-].
    ionic_strength : float
        Ionic strength [mol/kg water].

    Returns
    -------
    tuple of float
        Molality of H+ and of OH- [mol/kg water].

    Raises
    ------
    ValueError
        If pH or ionic strength is out of bounds.

    Notes
    -----
    The activity of water itself is taken as 1.
    """
    checked_pH(pH)
    monovalent = log_gamma(1.0, ionic_strength)
    return 10.0 ** (-pH - monovalent), 10.0 ** (pH - PKW - monovalent)


def water_charge_per_gram(pH: float, ionic_strength: float) -> float:
    """Tell the charge of the free H+ and OH- in a gram of water.

    Parameters
    ----------
    pH : float
        pH as a meter shows it, -log10 of the proton's activity [-].
    ionic_strength : float
        Ionic strength [mol/kg water].

    Returns
    -------
    float
        Molality of H+ less molality of OH- [meq/g water, the same number as mol/kg].

    Raises
    ------
    ValueError
        If pH or ionic strength is out of bounds.
    """
    hydrogen, hydroxide = water_ions(pH, ionic_strength)
    return hydrogen - hydroxide


def water_charge_slope(pH: float, ionic_strength: float) -> float:
    """Tell how fast the charge of the free H+ and OH- changes with pH, at a fixed ionic strength.

    Parameters
    ----------
    pH : float
        pH as a meter shows it [-].
    ionic_strength : float
        Ionic strength [mol/kg water].

    Returns
    -------
    float
        d(charge)/d(pH) [meq/g water per pH unit], always negative.

    Raises
    ------
    ValueError
        If pH or ionic strength is out of bounds.
    """
    hydrogen, hydroxide = water_ions(pH, ionic_strength)
    return -math.log(10.0) * (hydrogen + hydroxide)
