"""Legal limits as rows at substance level, summed over every material that brings the substance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.law import applicable, load_law, shipped_molar_masses
from optiform.measures.measure import Measure
from optiform.program.moves import MeasureMove
from optiform.program.requirement import Requirement

if TYPE_CHECKING:
    from optiform.law import ApplicableLimit
    from optiform.library.arrays import Floats
    from optiform.library.models import Library
    from optiform.program.draft import Draft


def add_law(draft: Draft) -> None:
    """Add every limit that applies to the brief's product, area and users; none of them ever moves."""
    brief, library = draft.brief, draft.library
    if brief.law == "none":
        draft.notes.append(
            "The brief switches the legal limits off: nothing here was checked against any law."
        )
        return
    law = load_law(brief.law, library.limits_file or None, brief.on)
    draft.notes.extend(law.notes)
    stated = {s.inci: s.molar_mass for s in library.substances if s.molar_mass is not None}
    molar_masses = {**shipped_molar_masses(), **stated}
    for limit in applicable(law, brief.product, brief.area, brief.users, brief.on):
        coefficients = counted(library, limit, molar_masses)
        if not coefficients.any():
            continue
        requirement = draft.require(
            Requirement(
                key=f"law/{limit.key}",
                title=limit.title,
                origin="law",
                measure=limit.key,
                side="at_most",
                bound=limit.max_percent,
                unit="% w/w",
                movable=False,
                why=limit.entry,
                source=limit.source,
            )
        )
        draft.move(
            requirement, MeasureMove(Measure(limit.key, "% w/w", coefficients), "at_most"), limit.max_percent
        )


def counted(library: Library, limit: ApplicableLimit, molar_masses: dict[str, float]) -> Floats:
    """Return what 1 % w/w of each material counts under a limit, shape (n,).

    A substance that the law governs by another entry in its other uses counts only in materials
    whose function is preservative. Impurities do not count towards a prohibition: traces that good
    making cannot avoid are allowed (Regulation (EC) No 1223/2009, Article 17).
    """
    arrays = library.arrays
    factors = limit.factors(molar_masses, arrays.substances)
    if not factors:
        return np.zeros(len(arrays.materials))
    factor = np.array([factors.get(inci, 0.0) for inci in arrays.substances])
    weights = arrays.fraction * factor[arrays.part_substance]
    if limit.only_as_preservative:
        names = {name.casefold() for name in limit.only_as_preservative}
        spared = np.array([inci.casefold() in names for inci in arrays.substances], dtype=bool)
        preservative = arrays.where(lambda material: "preservative" in material.functions)
        weights = np.where(spared[arrays.part_substance] & ~preservative[arrays.part_material], 0.0, weights)
    if limit.max_percent == 0:
        weights = np.where([part.label == "impurity" for part in library.parts], 0.0, weights)
    return np.asarray(
        np.bincount(arrays.part_material, weights=weights, minlength=len(arrays.materials)), dtype=float
    )
