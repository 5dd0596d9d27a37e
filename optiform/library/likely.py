"""Tells how far the charge data of likely lots lie from what a library states, where it states no range.

The middle 90 % of lots. The figures are the project's own, common practice without a source unless one is named;
docs/explanation/ph.md has the reason of each.
"""

from __future__ import annotations

import math

from optiform.library.models import Library, Material, Substance, Trust

ALKALI_SPREAD = {
    Trust.OWN: 0.10,
    Trust.PUBLISHED: 0.20,
    Trust.COMMON_PRACTICE: 0.35,
    Trust.MEMORY: 0.35,
    Trust.ESTIMATE: 0.35,
    Trust.INVENTED: 0.50,
}
"""Free alkali of a lot lies within a factor e^(this) of the stated one (middle 90 %), where no range is stated."""

READING_PART, READING_LEAST = 0.10, 1.0
"""Free alkali from a measured pH: within this part of itself, and at least this much [mmol/kg] (middle 90 %)."""

PER_UNIT, AT_LEAST, USUAL_PH = 50.0, 10.0, 5.5
"""Free alkali where a supplier's pH at 10 % is all that is known: so much per unit between that pH and that of a usual
wash, and at least so much, either way [mmol/kg] (middle 90 %)."""

PKA_SPREAD = {
    Trust.OWN: 0.05,
    Trust.PUBLISHED: 0.02,
    Trust.COMMON_PRACTICE: 0.10,
    Trust.MEMORY: 0.10,
    Trust.ESTIMATE: 0.30,
    Trust.INVENTED: 0.30,
}
"""How far a thermodynamic pKa may be off either way (middle 90 %), where no spread is stated."""

EFFECTIVE_PKA_SPREAD = 0.3
"""The same for an effective pKa: it was seen in another mixture, whatever its trust."""


def alkali_range(library: Library, material: Material) -> tuple[float, float]:
    """Return the free alkali of likely lots (5th and 95th percentile), as stated or by trust  [mmol/kg]."""
    trust = library.trust.get("free_alkali") or material.trust or Trust.MEMORY
    typical, factor = material.free_alkali, math.exp(ALKALI_SPREAD[trust])
    low, high = sorted((typical / factor, typical * factor))
    stated = (material.free_alkali_low, material.free_alkali_high)
    return low if stated[0] is None else stated[0], high if stated[1] is None else stated[1]


def with_reading(material: Material, free_alkali: float) -> Material:
    """Return a material whose free alkali was read at the bench: the lot in hand, not the grade  [mmol/kg]."""
    low, high = reading_range(free_alkali)
    read = {"free_alkali": free_alkali, "free_alkali_low": low, "free_alkali_high": high}
    return material.model_copy(update=read)


def reading_range(free_alkali: float) -> tuple[float, float]:
    """Return the range of the free alkali that a measured pH gave  [mmol/kg]."""
    off = max(READING_LEAST, READING_PART * abs(free_alkali))
    return round(free_alkali - off, 6), round(free_alkali + off, 6)


def range_from_pH(free_alkali: float, pH: float) -> tuple[float, float]:
    """Return the wide range of the free alkali of a material of which the supplier's pH is all that is known [mmol/kg].

    Parameters
    ----------
    free_alkali : float  [mmol/kg]
        What brings 10 % of the material in water to that pH, if nothing in it buffers.

    Notes
    -----
    What buffers in it can only add: base above the pH of a usual wash, acid below. So the range reaches far on that
    side, and `AT_LEAST` on the other.
    """
    reach = PER_UNIT * (pH - USUAL_PH)
    ends = (free_alkali - AT_LEAST, free_alkali + AT_LEAST, free_alkali + reach)
    return round(min(ends), 6), round(max(ends), 6)


def pka_spread(library: Library, substance: Substance) -> float:
    """Return how far the pKa of a substance may be off either way, as stated or by trust; 0 without a pKa."""
    if not substance.pka:
        return 0.0
    if substance.pka_spread is not None:
        return substance.pka_spread
    if substance.pka_kind == "effective":
        return EFFECTIVE_PKA_SPREAD
    return PKA_SPREAD[library.trust.get("pka") or substance.trust or Trust.MEMORY]
