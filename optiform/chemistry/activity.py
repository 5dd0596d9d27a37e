"""How far ions in water deviate from ideal: activity coefficients at 25 C.

The form is the Debye-Hueckel term of specific ion interaction theory (SIT). Its interaction coefficients are
left out, because a wash is no single known salt: those of citrate and phosphate with sodium (NEA, reference 1)
differ by -0.07 to +0.01 kg/mol from one step of an acid to the next, at most 0.07 pH for each mol/kg of ionic
strength, which the spread of a pH takes up (`INTERACTION_SPREAD`).

References
----------
.. [1] NEA Thermochemical Database (I. Grenthe and others, volumes 1 to 9; W. Hummel and others, volume 9, 2005),
   as carried in the data file sit.dat of PHREEQC 3 (ThermoChimie 12a): Na+ with H2Cit- -0.05, HCit2- -0.04, Cit3-
   -0.076, H2PO4- -0.08, HPO4(2-) -0.15, PO4(3-) -0.25 kg/mol; the theory is used up to about 3 mol/kg (memory).
.. [2] G. Scatchard's denominator, 1 + 1.5 sqrt(I), is that of the same database (memory).
.. [3] W. Stumm, J. J. Morgan, Aquatic Chemistry: A = 0.509 at 25 C (from memory; 0.5085 to 0.5115 are
   printed).
.. [4] NIST Critically Selected Stability Constants of Metal Complexes (SRD 46), as carried in the USGS data
   file minteq.v4.dat: pKw = 13.997 at 25 C and ionic strength 0.
"""

import math

DEBYE_HUECKEL_A = 0.509
"""Slope of the Debye-Hueckel limiting law in water at 25 C [(kg/mol)^0.5], reference 3."""

SCATCHARD = 1.5
"""Ion size times B in the denominator [(kg/mol)^0.5], reference 2."""

INTERACTION_SPREAD = 0.07
"""How far a pKa may be off for each mol/kg of ionic strength, interaction left out [kg/mol], reference 1."""

PKW = 13.997
"""Ionic product of water, -log10, at 25 C and ionic strength 0 [-], reference 4."""

IONIC_STRENGTH_LIMIT = 2.0
"""Highest ionic strength up to which this was held against the full theory [mol/kg water]."""

_PH_FARTHEST = 100.0


def held(ionic_strength: float) -> float:
    """Tell at which ionic strength activities are taken: the same one, or `IONIC_STRENGTH_LIMIT` above that."""
    if not ionic_strength >= 0.0:
        raise ValueError(f"ionic strength {ionic_strength!r} mol/kg; allowed: 0 or more")
    return min(ionic_strength, IONIC_STRENGTH_LIMIT)


def checked_pH(pH: float) -> float:
    """Return a pH that is a finite number of a size that means something: powers of ten stay finite."""
    if not abs(pH) <= _PH_FARTHEST:
        raise ValueError(f"pH {pH!r}; allowed: a finite number, in practice 0 to 14")
    return pH


def debye_hueckel_term(ionic_strength: float) -> float:
    """Tell the common factor of the activity coefficients, sqrt(I)/(1 + 1.5 sqrt(I))  [(mol/kg)^0.5], 0 to 0.453."""
    root = math.sqrt(held(ionic_strength))
    return root / (1.0 + SCATCHARD * root)


def log_gamma(charge: float, ionic_strength: float) -> float:
    """Tell log10 of the molal activity coefficient of an ion  [-], zero or negative; neutral species are ideal."""
    return -DEBYE_HUECKEL_A * charge * charge * debye_hueckel_term(ionic_strength)


def conditional_pka(pka: float, charge: float, ionic_strength: float, *, effective: bool = False) -> float:
    """Tell the pKa that relates molalities to the pH which a meter shows: where two forms have equal molalities.

    A thermodynamic constant is corrected for the activity of both forms; the proton stays an activity:
    pKa' = pKa - log gamma(z) + log gamma(z - 1).

    Parameters
    ----------
    pka : float
        pKa of the step at ionic strength 0, or the effective pKa [-].
    charge : float
        Charge z of the protonated form; the step leads to z - 1.
    effective : bool, optional
        True for a pKa that was observed in a mixture (shifted by micelles, a polymer): it is taken as it is.
    """
    if effective:
        held(ionic_strength)
        return pka
    return pka - log_gamma(charge, ionic_strength) + log_gamma(charge - 1.0, ionic_strength)
