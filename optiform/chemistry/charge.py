"""What charge one substance carries at a pH, and how much of an acid stays undissociated.

The charge of a substance is that of its strong counter-ions plus that of its titratable groups at their
mean protonation:

    charge = strong_charge + charge_acid_form - (mean number of protons lost)

It falls as pH rises, whatever the pKa: a proton lost is a positive charge lost.
"""

import math
from dataclasses import dataclass

from optiform.chemistry.activity import checked_pH, conditional_pka

LN10 = math.log(10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Titratable:
    """The acid-base data of one substance.

    Attributes
    ----------
    molar_mass : float
        Molar mass of the substance as written, counter-ions included [g/mol].
    pka : tuple of float
        pKa of each step at 25 C, from the fully protonated form downwards, not falling; empty if none [-].
    charge_acid_form : float
        Charge of the fully protonated form, without strong counter-ions [elementary charges].
    strong_charge : float
        Charge of the strong counter-ions per mole of substance; NaOH +1, HCl -1 [elementary charges].
    strong_ion_charge : float
        Charge of one strong counter-ion, its sign ignored; 1 for sodium, 2 for magnesium.
    effective : bool
        True if the pKa were observed in a mixture and take no activity correction.

    Raises
    ------
    ValueError
        If a value is not finite, the molar mass not above 0, the pKa fall, or `strong_ion_charge` is 0.
    """

    molar_mass: float
    pka: tuple[float, ...] = ()
    charge_acid_form: float = 0.0
    strong_charge: float = 0.0
    strong_ion_charge: float = 1.0
    effective: bool = False

    def __post_init__(self) -> None:
        """Refuse values from which no charge follows."""
        numbers = (self.molar_mass, self.charge_acid_form, self.strong_charge, self.strong_ion_charge)
        if not all(math.isfinite(value) for value in (*numbers, *self.pka)):
            raise ValueError(f"acid-base data must be finite numbers, found {(*numbers, *self.pka)}")
        if self.molar_mass <= 0.0:
            raise ValueError(f"molar mass {self.molar_mass:g} g/mol; allowed: above 0")
        if list(self.pka) != sorted(self.pka):
            raise ValueError(f"pKa {self.pka}; allowed: from the strongest acid group to the weakest")
        if self.strong_ion_charge == 0.0:
            raise ValueError("charge of a strong counter-ion 0; allowed: 1, 2 or 3")


def populations(titratable: Titratable, pH: float, ionic_strength: float) -> tuple[float, ...]:
    """Tell which fraction of a substance has lost 0, 1, 2 ... protons  [mol/mol], adding to 1.

    The first is undissociated, the form of an acid that works against microbes. It compares formulas and says nothing
    of efficacy, which only a challenge test shows; it does not see the acid that hides in micelles and oil.
    """
    checked_pH(pH)
    logs = [0.0]
    charge = titratable.charge_acid_form
    for pka in titratable.pka:
        conditional = conditional_pka(pka, charge, ionic_strength, effective=titratable.effective)
        logs.append(logs[-1] + LN10 * (pH - conditional))
        charge -= 1.0
    highest = max(logs)
    weights = [math.exp(value - highest) for value in logs]
    total = math.fsum(weights)
    return tuple(weight / total for weight in weights)
