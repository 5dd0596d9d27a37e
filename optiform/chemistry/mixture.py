"""pH of a mixture: one charge balance, solved together with its ionic strength."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optiform.chemistry.activity import IONIC_STRENGTH_LIMIT, held
from optiform.chemistry.balance import Balance, set_strength, standstill
from optiform.chemistry.contents import Acidity, Mixture, NoWaterError, OffScaleError
from optiform.chemistry.curve import OutsideCurveError
from optiform.chemistry.roots import falling_root
from optiform.chemistry.table import ChargeTable
from optiform.tolerances import EQUAL, LAST_DIGITS

__all__ = [
    "Acidity",
    "Mixture",
    "NoWaterError",
    "OffScaleError",
    "charge_of",
    "ionic_strength_of",
    "pH_of",
    "titration",
]

_PH_LOWEST, _PH_HIGHEST = -2.0, 16.0
_PH_NEAR, _PH_LEAST = 0.05, EQUAL


def pH_of(mixture: Mixture, table: ChargeTable) -> Acidity:
    """Tell the pH of a mixture at 25 C.

    Parameters
    ----------
    mixture : Mixture
        What 100 g contain.
    table : ChargeTable
        The substances, in the order of `mixture.grams`.

    Returns
    -------
    Acidity
        pH, ionic strength and buffer capacity, at which the charge balance and the ionic strength agree.

    Raises
    ------
    NoWaterError
        If the mixture contains no water.
    OutsideCurveError
        If the pH lies where a titration curve was not measured.
    OffScaleError
        If the charges balance nowhere between pH -2 and 16.
    ValueError
        If mixture and table have different lengths.

    Notes
    -----
    It is as good as the charges given; `optiform.chemistry.spread` tells what their uncertainty comes to.
    """
    balance = Balance(mixture, table)
    low, high = _bracket(mixture)

    near: list[float] = []

    def pH_at(strength: float) -> float:
        """Root of the charge; looked for near the last one first, as the ionic strength moves it less and less."""
        width = max(_PH_LEAST, 2.0 * abs(near[-1] - near[-2])) if len(near) > 1 else _PH_NEAR
        ends = [(near[-1] - width, near[-1] + width)] if near else []
        for start, end in [*ends, (low, high)]:
            first, last = max(start, low), min(end, high)
            pH = falling_root(lambda pH: balance.charge(pH, strength), first, last, LAST_DIGITS)
            if first < pH < last:
                break
        near.append(pH)
        return pH

    strength = standstill(lambda trial: balance.ionic_strength(pH_at(trial), trial))
    inside = held(strength)
    if balance.charge(low, inside) < 0.0:
        raise _beyond(mixture, f"below {low:g}")
    if balance.charge(high, inside) > 0.0:
        raise _beyond(mixture, f"above {high:g}")
    pH = pH_at(inside)
    return Acidity(
        pH=pH,
        ionic_strength=strength,
        held=strength > IONIC_STRENGTH_LIMIT,
        buffer_capacity=-balance.slope(pH, inside),
    )


def charge_of(mixture: Mixture, table: ChargeTable, pH: float, ionic_strength: float) -> float:
    """Tell the total charge of a mixture at a pH: above zero below its own pH, below zero above it.

    Parameters
    ----------
    mixture : Mixture
        What 100 g contain.
    table : ChargeTable
        The substances, in the order of `mixture.grams`.
    pH : float
        pH to test [-].
    ionic_strength : float
        Ionic strength [mol/kg water].

    Returns
    -------
    float
        Charge, free H+ and OH- included [meq per 100 g].

    Raises
    ------
    NoWaterError
        If the mixture contains no water.
    OutsideCurveError
        If a titration curve does not cover the pH.
    ValueError
        If mixture and table have different lengths, or pH or ionic strength is out of bounds.
    """
    return Balance(mixture, table).charge(pH, ionic_strength)


def ionic_strength_of(mixture: Mixture, table: ChargeTable, pH: float) -> float:
    """Tell the ionic strength of a mixture that strong acid or base has brought to a pH.

    Parameters
    ----------
    mixture : Mixture
        What 100 g contain, before that acid or base.
    table : ChargeTable
        The substances, in the order of `mixture.grams`.
    pH : float
        pH to which it is set [-].

    Returns
    -------
    float
        Ionic strength, the monovalent ions of the acid or base included [mol/kg water].

    Raises
    ------
    NoWaterError
        If the mixture contains no water.
    OutsideCurveError
        If a titration curve does not cover the pH.
    ValueError
        If mixture and table have different lengths, or the pH is out of bounds.
    """
    return set_strength(Balance(mixture, table), pH)


def titration(mixture: Mixture, table: ChargeTable, pHs: Sequence[float]) -> NDArray[np.float64]:
    """Tell how much strong acid brings a mixture to each pH.

    Parameters
    ----------
    mixture : Mixture
        What 100 g contain.
    table : ChargeTable
        The substances, in the order of `mixture.grams`.
    pHs : sequence of float, length m
        pH to reach [-].

    Returns
    -------
    ndarray, shape (m,)
        Monovalent strong acid, negative where base is needed [mmol per kg of the mixture].

    Raises
    ------
    NoWaterError
        If the mixture contains no water.
    OutsideCurveError
        If a titration curve does not cover a pH.
    ValueError
        If mixture and table have different lengths, or a pH is out of bounds.

    Notes
    -----
    The acid comes without water of its own. For 10 g of a material in 90 g of water, times ten gives mmol
    per kg of material.
    """
    balance = Balance(mixture, table)
    acid = [10.0 * balance.charge(pH, held(set_strength(balance, pH))) for pH in pHs]
    return np.array(acid, dtype=np.float64)


def _bracket(mixture: Mixture) -> tuple[float, float]:
    """Lowest and highest pH at which every part of the mixture has a charge."""
    low = max((curve.pH[0] for curve, _ in mixture.curves), default=_PH_LOWEST)
    high = min((curve.pH[-1] for curve, _ in mixture.curves), default=_PH_HIGHEST)
    if low >= high:
        raise OutsideCurveError(
            f"the titration curves share no pH range: one starts at {low:g}, one ends at {high:g}"
        )
    return low, high


def _beyond(mixture: Mixture, where: str) -> ValueError:
    """Error for a pH outside the bracket."""
    if mixture.curves:
        names = ", ".join(sorted({curve.name or "a material" for curve, _ in mixture.curves}))
        return OutsideCurveError(f"the pH lies {where}, where the titration of {names} was not measured")
    return OffScaleError(f"the pH lies {where}: too much acid or base for so little water")
