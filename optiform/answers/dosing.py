"""The pH of a formula by the full balance, and the acid or base to keep ready for the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.answer import Acidity, Dose
from optiform.measures.acidity import charge_curves

if TYPE_CHECKING:
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.library.models import Library

DOUBT = 0.3
"""How far the pH from typical data may be off, either way; the dose range spans it."""


def acidity_of(library: Library, brief: Brief, amounts: Floats) -> Acidity | None:
    """Return the pH of a formula with its doses, or None where no pH can be told.

    The dose range answers: how much of the acid (or base) would the formula need if its pH, computed
    from typical data, were off by `DOUBT` either way? Water makes room for it.
    """
    curves = charge_curves(library)
    settled = curves.settle(amounts)
    if settled is None:
        return None
    target = brief.targets.get("pH")
    dosed = target is not None and target.set == "dosed"
    used = [int(i) for i in np.flatnonzero(amounts > 0)]
    setters = [i for i in used if library.materials[i].function in ("acid", "base")]
    water = library.arrays.material_index[library.water.id]
    doses = (
        tuple(_dose(library, amounts, i, water, settled.pH, settled.ionic_strength) for i in setters)
        if dosed
        else ()
    )
    return Acidity(
        pH=settled.pH,
        ionic_strength=settled.ionic_strength,
        held=settled.held,
        undosed_pH=_undosed(library, amounts, setters, water),
        doses=doses,
        reserve=max((dose.high - dose.percent for dose in doses), default=0.0),
        buffer_capacity=settled.buffer_capacity,
    )


def _dose(library: Library, amounts: Floats, index: int, water: int, pH: float, strength: float) -> Dose:
    """Return the dose of one acid or base, and what it would be at a pH off by the doubt either way."""
    curves = charge_curves(library)
    ends = []
    for shifted in (pH - DOUBT, pH + DOUBT):
        charge = curves.at(min(max(shifted, 0.0), 14.0), strength)
        change = -float(charge @ amounts) / (charge[index] - charge[water])
        ends.append(max(0.0, float(amounts[index] + change)))
    return Dose(library.materials[index].id, float(amounts[index]), min(ends), max(ends))


def _undosed(library: Library, amounts: Floats, setters: list[int], water: int) -> float | None:
    """Return the pH without the acids and bases, water in their place."""
    if not setters:
        return None
    bare = amounts.copy()
    bare[water] += bare[setters].sum()
    bare[setters] = 0.0
    settled = charge_curves(library).settle(bare)
    return None if settled is None else settled.pH
