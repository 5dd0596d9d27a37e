"""Returns what must be said of a formula beside its numbers: filing categories, lists of the law, extracts, doubts."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from optiform.bounds import number
from optiform.law import applicable, law_for
from optiform.law.frames import exceeded
from optiform.library.cached_per_library import cached_per_library
from optiform.library.selection import select
from optiform.program.rows.law_rows import counted, law_in_force, molar_masses_of, scene_of
from optiform.tolerances import ROUNDING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.brief.models import Brief
    from optiform.law import ApplicableLimit
    from optiform.library.models import Library
    from optiform.program.rows.law_rows import Scene
    from optiform.vectors import Floats

AHEAD = timedelta(days=730)
"""So far ahead a limit that has been published is named before it holds."""
MOSTLY = 50.0
"""An extract that is less botanical than this is a dilution, and its solids are told [% w/w]."""
THICKENING = {"thickener": "thickens; how much", "salt": "thickens, and too much of it thins again; how much"}


def remarks(brief: Brief, library: Library, amounts: Floats) -> tuple[str, ...]:
    """Return what a reader must know of a formula that no number says.

    Parameters
    ----------
    brief : Brief
        Its law, product, area, users, day and exclusions count.
    amounts : ndarray, shape (n,)  [% w/w]
    """
    return (
        *_of_the_law(brief, library, amounts),
        *_frames(brief, library, amounts),
        *_let_in(brief, library, amounts),
        *_extracts(library, amounts),
    )


def body(library: Library, amounts: Floats) -> tuple[str, ...]:
    """Name each thickener, and salt, as one whose effect only a trial tells: for a formula without a viscosity."""
    used = (library.materials[position] for position in np.flatnonzero(amounts > ROUNDING))
    return tuple(
        f"{material.name.partition(',')[0]} {THICKENING[material.function]} only a trial tells."
        for material in used
        if material.function in THICKENING
    )


def _of_the_law(brief: Brief, library: Library, amounts: Floats) -> Iterator[str]:
    """Name preservatives that no list holds, and limits that are published, do not hold yet and would be broken."""
    scene, index = scene_of(brief), library.arrays.material_index
    for found in law_in_force(library, scene).unlisted:
        if found.rule.effect == "warn" and amounts[index[found.material]] > ROUNDING:
            yield (
                f"{found.name}: nothing in it stands in the list of {found.rule.use}s ({brief.law} "
                f"{found.rule.provision}), so it must have another purpose first and must not be called a "
                f"{found.rule.use}."
            )
    for first, limit, weights in _coming(library, scene):
        amount = float(weights @ amounts)
        if amount > limit.max_percent + ROUNDING:
            yield f"From {first}: {limit.title}; here {number(round(amount, 4))}."


@cached_per_library
def _coming(library: Library, scene: Scene) -> tuple[tuple[date, ApplicableLimit, Floats], ...]:
    """Return the limits that begin soon and that some material meets, with what a percent of each counts."""
    jurisdiction, on, product, area, users = scene
    law = law_for(library, jurisdiction, on)
    told = {limit.title for limit in law_in_force(library, scene).limits}
    days = {row.valid_from for row in law.limits if row.valid_from and on < row.valid_from <= on + AHEAD}
    masses, found = molar_masses_of(library), []
    for first in sorted(days):
        for limit in applicable(law, product, area, users, first):
            weights = counted(library, limit, masses) if limit.title not in told else None
            if weights is not None and weights.any():
                found.append((first, limit, weights))
            told.add(limit.title)
    return tuple(found)


def _frames(brief: Brief, library: Library, amounts: Floats) -> Iterator[str]:
    """Name the ceilings of the frame formulation for the area that the formula is above (EU and UK)."""
    if brief.law not in ("EU", "UK") or brief.product != "rinse-off":
        return
    for found, percent in exceeded(brief.area, frame_totals(library, amounts)):
        what = " and ".join(found.totals)
        yield (
            f"Above frame formulation {found.number} ({found.title[:1].lower()}{found.title[1:]}): {what} "
            f"{number(round(percent, 2))} %, ceiling {number(found.max_percent)} %. Notify the exact "
            "composition instead; it is no limit of the law."
        )


def frame_totals(library: Library, amounts: Floats) -> dict[str, float]:
    """Return what a frame formulation adds up [% w/w]: surfactants by charge class, materials by function."""
    arrays = library.arrays
    classes = {word: arrays.per_material(arrays.substance_has_class(word).astype(float)) for word in _CLASSES}
    functions = {material.function for material in library.materials}
    return {
        **{word: float(arrays.is_function(word).astype(float) @ amounts) for word in sorted(functions)},
        **{word: float(part @ amounts) for word, part in classes.items()},
    }


_CLASSES = ("anionic", "amphoteric", "nonionic", "cationic")


def _let_in(brief: Brief, library: Library, amounts: Floats) -> Iterator[str]:
    """Name what an exclusion let in because the brief allows the unknown."""
    index = library.arrays.material_index
    for wish in brief.exclude:
        if wish.unknown != "allow":
            continue
        maybe = [n for n in select(library, wish.kind, wish.word).maybe if amounts[index[n]] > ROUNDING]
        if maybe:
            names = "; ".join(library.material[name].name for name in maybe)
            yield f"May contain {wish.word}, and is let in because the brief allows the unknown: {names}."


def _extracts(library: Library, amounts: Floats) -> Iterator[str]:
    """Tell how much extract proper dilute extracts bring."""
    told = []
    for position in np.flatnonzero(amounts > ROUNDING):
        material = library.materials[position]
        if material.function != "extract":
            continue
        parts = library.composition[material.id]
        plant = [part for part in parts if "botanical" in library.substance[part.inci].tags]
        strength = sum(part.percent for part in plant)
        if 0 < strength < MOSTLY:
            brought = number(float(f"{amounts[position] * strength / 100.0:.2g}"))
            names = " and ".join(part.inci for part in plant)
            told.append(
                f"{brought} % {names} (in {number(round(float(amounts[position]), 2))} % {material.name})"
            )
    if told:
        yield f"Extract proper: {'; '.join(told)}."
