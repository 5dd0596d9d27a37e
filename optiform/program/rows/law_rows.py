"""States legal limits at substance level, summed over every material that brings the substance."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import numpy as np

from optiform.brief.models import Brief
from optiform.law import ApplicableLimit, Unlisted, applicable, law_for, shipped_molar_masses, unlisted
from optiform.law.models import Area, Jurisdiction, Product
from optiform.library.cached_per_library import cached_per_library
from optiform.library.models import Library
from optiform.measures.measure import Measure
from optiform.program.requirement import Key
from optiform.program.rows.draft import Draft
from optiform.program.rows.moves import MeasureMove
from optiform.vectors import Flags, Floats

Scene = tuple[Jurisdiction, date, Product, Area, tuple[str, ...]]
"""Place, day, product, area and users: what decides which limits hold."""


@dataclass(frozen=True, eq=False)
class LawInForce:
    """What the law of a place says of the materials of a library.

    Attributes
    ----------
    limits : tuple of ApplicableLimit
        All that hold for a product.
    met : tuple of (ApplicableLimit, ndarray of shape (n,))
        Those that some material meets, with what 1 % w/w of each material counts.
    unlisted : tuple of Unlisted
        Colourants and preservatives that no list holds.
    notes : tuple of str
    """

    limits: tuple[ApplicableLimit, ...] = field(repr=False)
    met: tuple[tuple[ApplicableLimit, Floats], ...] = field(repr=False)
    unlisted: tuple[Unlisted, ...]
    notes: tuple[str, ...]


@cached_per_library
def law_in_force(library: Library, scene: Scene) -> LawInForce:
    """Return what the law says of a library's materials, worked out once: every program over it asks."""
    jurisdiction, on, product, area, users = scene
    law = law_for(library, jurisdiction, on)
    masses = molar_masses_of(library)
    limits = applicable(law, product, area, users, on)
    weighed = ((limit, counted(library, limit, masses)) for limit in limits)
    met = tuple((limit, weights) for limit, weights in weighed if weights.any())
    return LawInForce(limits, met, unlisted(library, law, product, area), law.notes)


def scene_of(brief: Brief) -> Scene:
    """Return what decides which limits hold for a brief."""
    return brief.law, brief.on or date.today(), brief.product, brief.area, tuple(brief.users)


def add_law(draft: Draft) -> None:
    """Add every limit that applies to the brief's product, area and users; none of them ever moves."""
    brief, library = draft.brief, draft.library
    if brief.law == "none":
        draft.notes.append(
            "The brief switches the legal limits off: nothing here was checked against any law."
        )
        return
    law = law_in_force(library, scene_of(brief))
    draft.notes.extend(law.notes)
    _colourants(draft, law.unlisted)
    for limit, coefficients in law.met:
        requirement = draft.require_bound(
            Key("law", (limit.key,)),
            limit.label,
            "at_most",
            limit.max_percent,
            "% w/w",
            title=limit.title,
            origin="law",
            measure=limit.key,
            movable=False,
            why=limit.entry,
            source=limit.source,
        )
        measure = Measure(limit.key, "% w/w", coefficients)
        draft.move(requirement, MeasureMove(measure, "at_most"), limit.max_percent)


def _colourants(draft: Draft, lacking: tuple[Unlisted, ...]) -> None:
    """Keep out the colourants that no list of the law holds, where it says that only listed ones may be used."""
    for found in lacking:
        if found.rule.effect != "exclude":
            continue
        place = f"{draft.brief.law} {found.rule.provision}"
        requirement = draft.require_choice(
            Key("law", (place, found.material)),
            f"{found.material} not allowed: {', '.join(found.substances)} is not in the list of {found.rule.use}s "
            f"({place})",
            "law",
            movable=False,
            subject=(found.material,),
            why=found.rule.provision,
            source=found.rule.source,
        )
        draft.forbid(requirement, [draft.position(found.material)])


def molar_masses_of(library: Library) -> dict[str, float]:
    """Return molar masses by INCI name in lower case [g/mol]: the library's own before the shipped ones."""
    stated = {s.inci: s.molar_mass for s in library.substances if s.molar_mass is not None}
    return {name.casefold(): mass for name, mass in {**shipped_molar_masses(), **stated}.items()}


def counted(library: Library, limit: ApplicableLimit, molar_masses: dict[str, float]) -> Floats:
    """Return what 1 % w/w of each material counts under a limit, shape (n,).

    A substance that the law governs by another entry in its other uses counts only in materials
    whose function is preservative. Impurities do not count towards a prohibition: traces that good
    making cannot avoid are allowed (Regulation (EC) No 1223/2009, Article 17). `molar_masses` are by
    INCI name in lower case.
    """
    arrays = library.arrays
    spelt = _spelt(library)
    present = [inci for name in limit.substances for inci in spelt.get(name.casefold(), ())]
    masses = {inci: molar_masses[inci.casefold()] for inci in present if inci.casefold() in molar_masses}
    factors = limit.factors(masses, present)
    if not factors:
        return np.zeros(len(arrays.materials))
    factor = np.zeros(len(arrays.substances))
    for inci, times in factors.items():
        factor[arrays.substance_index[inci]] = times
    weights = arrays.fraction * factor[arrays.part_substance]
    if limit.only_as_preservative:
        names = {name.casefold() for name in limit.only_as_preservative}
        spared = np.zeros(len(arrays.substances), dtype=bool)
        spared[[arrays.substance_index[inci] for inci in present if inci.casefold() in names]] = True
        preservative = arrays.has_function("preservative")
        weights = np.where(spared[arrays.part_substance] & ~preservative[arrays.part_material], 0.0, weights)
    if limit.max_percent == 0:
        weights = np.where(_impurities(library), 0.0, weights)
    return np.bincount(arrays.part_material, weights, len(arrays.materials)).astype(float)


@cached_per_library
def _spelt(library: Library) -> dict[str, list[str]]:
    """Return the library's own spellings of each INCI name; the law counts letters, not case."""
    spelt: dict[str, list[str]] = {}
    for inci in library.arrays.substances:
        spelt.setdefault(inci.casefold(), []).append(inci)
    return spelt


@cached_per_library
def _impurities(library: Library) -> Flags:
    """Flag the parts that are impurities, shape (parts,)."""
    return np.array([part.label == "impurity" for part in library.parts], dtype=bool)
