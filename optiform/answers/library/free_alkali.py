"""Computes the free alkali of a new material from its measured pH."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.chemistry import Mixture, titration
from optiform.faults import BadInput, Fault
from optiform.library.adding import AddedRows, joined
from optiform.library.likely import with_reading
from optiform.library.models import Library
from optiform.measures.acidity import charge_curves

LARGEST_FREE_ALKALI = 500.0


def free_alkali_of(library: Library, added: AddedRows, pH_10: float) -> float:
    """Return the free alkali that brings 10 % of a new material in water to its measured pH.

    Parameters
    ----------
    library : Library
        The library that the material is added to.
    added : AddedRows
        The new material; the free alkali that it states is not used.
    pH_10 : float
        Measured pH of 10 g of the material in 90 g of water.

    Returns
    -------
    float  [mmol per kg of material]
        Strong base beyond the composition as written; negative for free acid.

    Raises
    ------
    BadInput
        When the pH is none, or more than `LARGEST_FREE_ALKALI` would be needed: then the composition,
        not a trace of alkali, is what differs from the material as it is sold.

    Notes
    -----
    Without a buffer in the material the pH says little about the amount: a trace moves it far.
    """
    if not 0.0 <= pH_10 <= 14.0:
        raise BadInput([Fault("", "pH at 10 %", f"{pH_10:g} is no pH", allowed="0 to 14")])
    whole = joined(library, added)
    arrays, curves = whole.arrays, charge_curves(whole)
    amounts = arrays.amounts([(added.material.id, 10.0), (whole.water.id, 90.0)])
    washing = added.material.function == "surfactant"
    water = float(curves.aqua @ amounts)
    mixture = Mixture(
        grams=arrays.substance_percent(amounts),
        water=water,
        free_alkali=90.0 * whole.water.free_alkali / 1000.0,
        surfactant=curves.has_class if washing else np.zeros(len(arrays.substances), dtype=bool),
    )
    acid_per_kg_of_mixture = float(titration(mixture, curves.table, [pH_10])[0])
    alkali = -10.0 * acid_per_kg_of_mixture
    if abs(alkali) > LARGEST_FREE_ALKALI:
        message = f"{pH_10:g} would need {alkali:.0f} mmol/kg of free alkali beyond the composition"
        raise BadInput([Fault("", "pH at 10 %", message, allowed="a pH that the composition explains")])
    return round(alkali, 4)


def with_free_alkali(library: Library, added: AddedRows, pH_10: float) -> AddedRows:
    """Return the new material with the free alkali that its measured pH calls for."""
    return replace(added, material=with_reading(added.material, free_alkali_of(library, added, pH_10)))


def measured(library: Library, added: AddedRows, pH_10: float) -> AddedRows:
    """Return the new material with its free alkali; a pH that the composition cannot have is a fault.

    Raises
    ------
    BadInput
        If no free alkali within reason brings it to this pH.
    """
    try:
        return with_free_alkali(library, added, pH_10)
    except ValueError as error:
        raise BadInput([Fault("", "--ph-10", str(error))]) from None
