"""Charge curves, activity and the pH of mixtures; knows nothing of briefs or libraries."""

from optiform.chemistry.activity import (
    DEBYE_HUECKEL_A,
    INTERACTION_SPREAD,
    IONIC_STRENGTH_LIMIT,
    PKW,
    SCATCHARD,
    conditional_pka,
    debye_hueckel_term,
    held,
    log_gamma,
)
from optiform.chemistry.charge import (
    Titratable,
    charge_per_gram,
    charge_slope,
    mean_charge,
    mean_square_charge,
    populations,
    undissociated_fraction,
)
from optiform.chemistry.contents import Acidity, Mixture, NoWaterError, OffScaleError
from optiform.chemistry.curve import OutsideCurveError, TitrationCurve
from optiform.chemistry.ionic import FREE_COUNTER_IONS, ionic_term
from optiform.chemistry.mixture import (
    charge_of,
    ionic_strength_of,
    pH_of,
    titration,
)
from optiform.chemistry.table import ChargeTable, charges_per_gram
from optiform.chemistry.water import water_charge_per_gram, water_charge_slope, water_ions

__all__ = [
    "DEBYE_HUECKEL_A",
    "FREE_COUNTER_IONS",
    "INTERACTION_SPREAD",
    "IONIC_STRENGTH_LIMIT",
    "PKW",
    "SCATCHARD",
    "Acidity",
    "ChargeTable",
    "Mixture",
    "NoWaterError",
    "OffScaleError",
    "OutsideCurveError",
    "Titratable",
    "TitrationCurve",
    "charge_of",
    "charge_per_gram",
    "charge_slope",
    "charges_per_gram",
    "conditional_pka",
    "debye_hueckel_term",
    "held",
    "ionic_strength_of",
    "ionic_term",
    "log_gamma",
    "mean_charge",
    "mean_square_charge",
    "pH_of",
    "populations",
    "titration",
    "undissociated_fraction",
    "water_charge_per_gram",
    "water_charge_slope",
    "water_ions",
]
