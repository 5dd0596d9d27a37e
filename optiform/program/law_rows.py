"""Legal limits as rows at substance level, summed over every material that brings the substance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.measures.measure import Measure
from optiform.program.requirement import Requirement
from optiform.program.moves import MeasureMove

if TYPE_CHECKING:
    from optiform.program.draft import Draft


def add_law(draft: Draft) -> None:
    """Add every limit that applies to the brief's product, area and users; none of them ever moves."""
    brief, library = draft.brief, draft.library
    if brief.law == "none":
        draft.notes.append("The brief switches the legal limits off: nothing here was checked against any law.")
        return
    from optiform.law import applicable, load_law

    law = load_law(brief.law, library.limits_file or None)
    arrays = library.arrays
    molar_masses = {s.inci: s.molar_mass for s in library.substances if s.molar_mass is not None}
    present = set(arrays.substances)
    for limit in applicable(law, brief.product, brief.area, brief.users):
        factors = limit.factors(molar_masses, present)
        if not factors:
            continue
        per_substance = arrays.over_substances(lambda substance: factors.get(substance.inci, 0.0))  # noqa: B023
        coefficients = arrays.per_material(per_substance)
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
        measure = Measure(limit.title, "% w/w", coefficients)
        draft.move(requirement, MeasureMove(measure, "at_most"), limit.max_percent)
