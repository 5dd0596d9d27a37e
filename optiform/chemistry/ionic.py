"""What a substance adds to the ionic strength: I = 1/2 sum(m z^2), per kg of water.

Ions of buffers and salts count in full. Of a surfactant only the free part of its counter-ions counts: the
surfactant ions sit in micelles together with the rest of their counter-ions.

References
----------
.. [1] J. Phys. Chem. B 109 (2005), issue 33, doi 10.1021/jp050597a, abstract: degree of counter-ion
   dissociation of tetramethylammonium dodecyl sulfate micelles 0.33 by NMR, 0.2 by conductivity. The
   rounded 0.3 is our choice.
"""

from optiform.chemistry.charge import Titratable, mean_square_charge

__all__ = ["FREE_COUNTER_IONS", "ionic_term", "strong_square_charge"]

FREE_COUNTER_IONS = 0.3
"""Part of a surfactant's counter-ions that is free of its micelles [mol/mol], reference 1."""


def strong_square_charge(titratable: Titratable) -> float:
    """Tell the sum of squared charges over the strong counter-ions of one mole.

    Parameters
    ----------
    titratable : Titratable
        The substance.

    Returns
    -------
    float
        Number of counter-ions per mole times the square of their charge [mol/mol]: |total| * |of one ion|.
    """
    return abs(titratable.strong_charge) * abs(titratable.strong_ion_charge)


def ionic_term(
    titratable: Titratable, pH: float, ionic_strength: float, *, surfactant: bool = False
) -> float:
    """Tell what a gram of the substance adds to the ionic strength.

    Parameters
    ----------
    titratable : Titratable
        The substance.
    pH : float
        pH as a meter shows it [-].
    ionic_strength : float
        Ionic strength at which the forms of the substance are in balance [mol/kg water].
    surfactant : bool, optional
        True for a substance that sits in micelles: only `FREE_COUNTER_IONS` of its counter-ions count.

    Returns
    -------
    float
        1/2 sum(n z^2) over the ions of a gram [mol/g]; times grams per kg of water, it is the share in I.

    Raises
    ------
    ValueError
        If pH or ionic strength is out of bounds (a surfactant's term depends on neither).

    Notes
    -----
    Counter-ions that a surfactant takes over from an acid or base added later are counted in full, with that
    acid or base: the ionic strength comes out slightly high for acyl glutamates and their like.
    """
    counter_ions = strong_square_charge(titratable)
    if surfactant:
        return 0.5 * FREE_COUNTER_IONS * counter_ions / titratable.molar_mass
    own_ions = mean_square_charge(titratable, pH, ionic_strength)
    return 0.5 * (own_ions + counter_ions) / titratable.molar_mass
