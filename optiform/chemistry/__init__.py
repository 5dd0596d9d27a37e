"""Charge curves, activity and the pH of mixtures; knows nothing of briefs or libraries.

Everywhere here pH is what a meter shows at 25 C [-], an ionic strength is in mol per kg of water, and a charge is in
elementary charges where no other unit is named. A pH that is no finite number or beyond 100 in size, and an ionic
strength that is negative or no number, raise ValueError.
"""

from optiform.chemistry.activity import IONIC_STRENGTH_LIMIT, held
from optiform.chemistry.charge import Titratable, populations
from optiform.chemistry.contents import Acidity, Mixture, NoWaterError, OffScaleError
from optiform.chemistry.curve import OutsideCurveError, TitrationCurve
from optiform.chemistry.mixture import pH_of, titration
from optiform.chemistry.table import ChargeTable
from optiform.chemistry.water import water_charge_per_gram, water_charge_slope

__all__ = [
    "IONIC_STRENGTH_LIMIT",
    "Acidity",
    "ChargeTable",
    "Mixture",
    "NoWaterError",
    "OffScaleError",
    "OutsideCurveError",
    "Titratable",
    "TitrationCurve",
    "held",
    "pH_of",
    "populations",
    "titration",
    "water_charge_per_gram",
    "water_charge_slope",
]
