"""pH of a mixture: one charge balance, solved together with its ionic strength."""

from collections.abc import Sequence

import numpy as np

from optiform.chemistry.activity import IONIC_STRENGTH_LIMIT, held
from optiform.chemistry.balance import Balance, set_strength, standstill
from optiform.chemistry.contents import Acidity, Mixture, OffScaleError
from optiform.chemistry.curve import OutsideCurveError
from optiform.chemistry.roots import falling_root
from optiform.chemistry.table import ChargeTable
from optiform.tolerances import EQUAL, LAST_DIGITS
from optiform.vectors import Floats

_PH_LOWEST, _PH_HIGHEST = -2.0, 16.0
_PH_NEAR, _PH_LEAST = 0.05, EQUAL


def pH_of(mixture: Mixture, table: ChargeTable) -> Acidity:
    """Tell the pH of a mixture at 25 C.

    The charge balance and the ionic strength agree there. `table` holds the substances in the order of `mixture.grams`.

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
        """Return the root of the charge, looked for near the last one first: each strength moves it less."""
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


def titration(mixture: Mixture, table: ChargeTable, pHs: Sequence[float]) -> Floats:
    """Tell how much monovalent strong acid brings a mixture to each pH  [mmol per kg of it], shape (m,).

    Negative where base is needed. Raises as `pH_of` does, where a curve does not cover one of the pH.

    Notes
    -----
    The acid comes without water of its own. For 10 g of a material in 90 g of water, times ten gives mmol
    per kg of material.
    """
    balance = Balance(mixture, table)
    acid = [10.0 * balance.charge(pH, held(set_strength(balance, pH))) for pH in pHs]
    return np.array(acid, dtype=np.float64)


def _bracket(mixture: Mixture) -> tuple[float, float]:
    """Return the lowest and highest pH at which every part of the mixture has a charge."""
    low = max((curve.pH[0] for curve, _ in mixture.curves), default=_PH_LOWEST)
    high = min((curve.pH[-1] for curve, _ in mixture.curves), default=_PH_HIGHEST)
    if low >= high:
        raise OutsideCurveError(
            f"the titration curves share no pH range: one starts at {low:g}, one ends at {high:g}"
        )
    return low, high


def _beyond(mixture: Mixture, where: str) -> ValueError:
    """Return the error for a pH outside the bracket."""
    if mixture.curves:
        names = ", ".join(sorted({curve.name or "a material" for curve, _ in mixture.curves}))
        return OutsideCurveError(f"the pH lies {where}, where the titration of {names} was not measured")
    return OffScaleError(f"the pH lies {where}: too much acid or base for so little water")
