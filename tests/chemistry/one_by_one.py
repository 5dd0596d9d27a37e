"""One substance, and one mixture, as the charge table and the charge balance have them."""

from optiform.chemistry import ChargeTable
from optiform.chemistry.balance import Balance


def mean_charge(substance, pH, strength):
    """Charge per molecule, counter-ions included [elementary charges]."""
    return ChargeTable([substance]).at(pH, strength)[0] * substance.molar_mass / 1000.0


def charge_slope(substance, pH, strength):
    """Change of that charge with pH [elementary charges per pH unit]."""
    return ChargeTable([substance]).slope(pH, strength)[0] * substance.molar_mass / 1000.0


def ionic_term(substance, pH, strength):
    """What a gram adds to the ionic strength [mol/g]."""
    return ChargeTable([substance]).ionic_terms(pH, strength)[0]


def charge_of(mixture, table, pH, strength):
    """Total charge of a mixture [meq per 100 g]."""
    return Balance(mixture, table).charge(pH, strength)
