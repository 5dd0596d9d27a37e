"""The charge that water itself brings: free H+ and OH- at 25 C."""

import math

from optiform.chemistry.activity import PKW, checked_pH, log_gamma


def water_ions(pH: float, ionic_strength: float) -> tuple[float, float]:
    """Tell the molalities of free H+ and OH-  [mol/kg water]; the activity of water itself is taken as 1."""
    checked_pH(pH)
    monovalent = log_gamma(1.0, ionic_strength)
    return 10.0 ** (-pH - monovalent), 10.0 ** (pH - PKW - monovalent)


def water_charge_per_gram(pH: float, ionic_strength: float) -> float:
    """Tell the charge of the free H+ and OH- in a gram of water  [meq/g water, the same number as mol/kg]."""
    hydrogen, hydroxide = water_ions(pH, ionic_strength)
    return hydrogen - hydroxide


def water_charge_slope(pH: float, ionic_strength: float) -> float:
    """Tell how fast that charge changes with pH at a fixed ionic strength  [meq/g water per pH unit], below 0."""
    hydrogen, hydroxide = water_ions(pH, ionic_strength)
    return -math.log(10.0) * (hydrogen + hydroxide)
