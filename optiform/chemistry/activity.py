"""How far ions in water deviate from ideal: Davies activity coefficients at 25 C.

References
----------
.. [1] C. W. Davies, Ion Association, Butterworths, London 1962: the form used here, b = 0.3, fit up to
   about 0.5 mol/kg (from memory; b = 0.2 was his value of 1938).
.. [2] W. Stumm, J. J. Morgan, Aquatic Chemistry: A = 0.509 at 25 C (from memory; 0.5085 to 0.5115 are
   printed).
.. [3] NIST Critically Selected Stability Constants of Metal Complexes (SRD 46), as carried in the USGS data
   file minteq.v4.dat: pKw = 13.997 at 25 C and ionic strength 0.
"""

import math

__all__ = [
    "DAVIES_A",
    "DAVIES_B",
    "IONIC_STRENGTH_LIMIT",
    "PKW",
    "checked_pH",
    "conditional_pka",
    "davies_term",
    "held",
    "log_gamma",
]

DAVIES_A = 0.509
"""Slope of the Debye-Hueckel limiting law in water at 25 C [(kg/mol)^0.5], reference 2."""

DAVIES_B = 0.3
"""Coefficient of the linear term of the Davies equation [kg/mol], reference 1."""

PKW = 13.997
"""Ionic product of water, -log10, at 25 C and ionic strength 0 [-], reference 3."""

IONIC_STRENGTH_LIMIT = 0.5
"""Highest ionic strength at which the Davies equation is trusted [mol/kg water], reference 1."""

_PH_FARTHEST = 100.0


def held(ionic_strength: float) -> float:
    """Tell which ionic strength the activity model is evaluated at.

    Parameters
    ----------
    ionic_strength : float
        Ionic strength of the solution [mol/kg water].

    Returns
    -------
    float
        The same value, or `IONIC_STRENGTH_LIMIT` where it exceeds that limit [mol/kg water].

    Raises
    ------
    ValueError
        If the ionic strength is negative or not a number.
    """
    if not ionic_strength >= 0.0:
        raise ValueError(f"ionic strength {ionic_strength!r} mol/kg; allowed: 0 or more")
    return min(ionic_strength, IONIC_STRENGTH_LIMIT)


def checked_pH(pH: float) -> float:
    """Tell that a pH is a finite number of a size that means something.

    Parameters
    ----------
    pH : float
        pH to check [-].

    Returns
    -------
    float
        The same pH.

    Raises
    ------
    ValueError
        If the pH is not a number, or beyond 100 in size (outside any solution; powers of ten stay finite).
    """
    if not abs(pH) <= _PH_FARTHEST:
        raise ValueError(f"pH {pH!r}; allowed: a finite number, in practice 0 to 14")
    return pH


def davies_term(ionic_strength: float) -> float:
    """Tell the common factor of the Davies equation, sqrt(I)/(1 + sqrt(I)) - b I.

    Parameters
    ----------
    ionic_strength : float
        Ionic strength [mol/kg water]; above `IONIC_STRENGTH_LIMIT` it is held there.

    Returns
    -------
    float
        The factor [(mol/kg)^0.5], from 0 to 0.264.

    Raises
    ------
    ValueError
        If the ionic strength is negative or not a number.
    """
    strength = held(ionic_strength)
    root = math.sqrt(strength)
    return root / (1.0 + root) - DAVIES_B * strength


def log_gamma(charge: float, ionic_strength: float) -> float:
    """Tell log10 of the activity coefficient of an ion.

    Parameters
    ----------
    charge : float
        Charge of the ion [elementary charges]; 0 gives 0 (neutral species are ideal).
    ionic_strength : float
        Ionic strength [mol/kg water]; above `IONIC_STRENGTH_LIMIT` it is held there.

    Returns
    -------
    float
        log10 of the molal activity coefficient [-], zero or negative.

    Raises
    ------
    ValueError
        If the ionic strength is negative or not a number.
    """
    return -DAVIES_A * charge * charge * davies_term(ionic_strength)


def conditional_pka(pka: float, charge: float, ionic_strength: float, *, effective: bool = False) -> float:
    """Tell the pKa that relates molalities to the pH which a meter shows.

    A thermodynamic constant is corrected for the activity of both forms; the proton stays an activity:
    pKa' = pKa - log gamma(z) + log gamma(z - 1).

    Parameters
    ----------
    pka : float
        pKa of the step at ionic strength 0, or the effective pKa [-].
    charge : float
        Charge z of the protonated form; the step leads to z - 1.
    ionic_strength : float
        Ionic strength [mol/kg water]; above `IONIC_STRENGTH_LIMIT` it is held there.
    effective : bool, optional
        True for a pKa that was observed in a mixture (shifted by micelles, a polymer): it is taken as it is.

    Returns
    -------
    float
        pH at which the two forms have equal molalities [-].

    Raises
    ------
    ValueError
        If the ionic strength is negative or not a number.
    """
    if effective:
        held(ionic_strength)
        return pka
    return pka - log_gamma(charge, ionic_strength) + log_gamma(charge - 1.0, ionic_strength)
