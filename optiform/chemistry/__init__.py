"""Charge curves, activity and the pH of mixtures; knows nothing of briefs or libraries."""

from optiform.chemistry.activity import (
    DAVIES_A,
    DAVIES_B,
    IONIC_STRENGTH_LIMIT,
    PKW,
    conditional_pka,
    davies_term,
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
    "DAVIES_A",
    "DAVIES_B",
    "FREE_COUNTER_IONS",
    "IONIC_STRENGTH_LIMIT",
    "PKW",
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
    "davies_term",
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
