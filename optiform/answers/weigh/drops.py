"""Tells acid and base in drops beside grams, for trials so small that a balance hardly shows them."""

from __future__ import annotations

from optiform.answers.model.weighing import DROPS_PER_ML, Drops
from optiform.library.models import Library, Material

SMALL_TRIAL_G = 500.0
TRIAL_SOLUTION = 10.0
"""Strength at which a solid acid or base is dropped [% w/w]."""

MOSTLY_WATER = 5.0
SOLID = frozenset({"dust", "dissolve", "melt", "sprinkle", "slurry", "hydrate"})
"""Handling words of what does not run, whatever water its crystals hold."""


def drops_of(grams: float, density: float | None = None, per_mL: float = DROPS_PER_ML) -> float:
    """Return how many drops a mass of liquid is.

    Parameters
    ----------
    grams : float  [g]
    density : float, optional  [g/mL]
        1 where it is not known.
    per_mL : float
        Drops in 1 mL; they differ by dropper, so count yours once.

    Examples
    --------
    >>> round(drops_of(3.6, density=1.04))
    69
    """
    return grams / (density or 1.0) * per_mL


def runs(library: Library, material: Material) -> bool:
    """Tell whether a material is a liquid that a dropper takes."""
    if SOLID & set(material.handling):
        return False
    water = sum(part.percent for part in library.composition[material.id] if part.inci == "Aqua")
    return water >= MOSTLY_WATER or material.density is not None


def drops_beside(
    library: Library, material: Material, grams: float, batch_g: float, per_mL: float = DROPS_PER_ML
) -> Drops | None:
    """Return the drops of an acid or base in a small trial; None for anything else.

    A liquid is dropped as it is, a solid as a solution of `TRIAL_SOLUTION`. What is dissolved before, as the salt of a
    buffer, is weighed.
    """
    if material.function not in ("acid", "base") or material.phase != "adjust" or batch_g > SMALL_TRIAL_G:
        return None
    if runs(library, material):
        return Drops(None, grams, 0.0, drops_of(grams, material.density, per_mL), material.density)
    solution = grams * 100.0 / TRIAL_SOLUTION
    return Drops(TRIAL_SOLUTION, solution, solution - grams, drops_of(solution, None, per_mL), None)
