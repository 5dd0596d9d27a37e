"""What must be said of a formula beside its numbers: filing categories, lists of the law, extracts, doubts."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from optiform.law import applicable, law_for, unlisted
from optiform.law.frames import exceeded
from optiform.library.kept import kept
from optiform.library.selection import select
from optiform.program.law_rows import counted, molar_masses_of
from optiform.program.requirement import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from optiform.brief.models import Brief
    from optiform.law import ApplicableLimit, Law
    from optiform.library.arrays import Floats
    from optiform.library.models import Library

AHEAD = timedelta(days=730)
"""So far ahead a limit that has been published is named before it holds."""
MOSTLY = 50.0
"""An extract that is less botanical than this is a dilution, and its solids are told [% w/w]."""
TRACE = 1e-9


def remarks(brief: Brief, library: Library, amounts: Floats) -> tuple[str, ...]:
    """Return what a reader must know of a formula that no number says.

    Parameters
    ----------
    brief : Brief
        Its law, product, area, users, day and exclusions count.
    library : Library
    amounts : ndarray, shape (n,)  [% w/w]
    """
    law = law_for(library, brief.law, brief.on)
    return (
        *_off_the_lists(brief, library, law, amounts),
        *_coming(brief, library, law, amounts),
        *_frames(brief, library, amounts),
        *_let_in(brief, library, amounts),
        *_extracts(library, amounts),
    )


def _off_the_lists(brief: Brief, library: Library, law: Law, amounts: Floats) -> Iterator[str]:
    """Name the preservatives that no list of the law holds; colourants are a requirement of the law."""
    index = library.arrays.material_index
    for found in unlisted(library, law, brief.product, brief.area):
        if found.rule.effect == "warn" and amounts[index[found.material]] > TRACE:
            yield (
                f"{found.name}: nothing in it stands in the list of {found.rule.use}s ({brief.law} "
                f"{found.rule.provision}), so it must have another purpose first and must not be called a "
                f"{found.rule.use}."
            )


def _coming(brief: Brief, library: Library, law: Law, amounts: Floats) -> Iterator[str]:
    """Name the limits that are published, do not hold yet, and would be broken."""
    day = brief.on or law.on
    now = {limit.title for limit in applicable(law, brief.product, brief.area, brief.users, day)}
    later = sorted(
        {row.valid_from for row in law.limits if row.valid_from and day < row.valid_from <= day + AHEAD}
    )
    for first in later:
        for limit, weights in _limits_of(library, brief.law, first, brief.product, brief.area, brief.users):
            if limit.title not in now and float(weights @ amounts) > limit.max_percent + TRACE:
                now.add(limit.title)
                yield f"From {first}: {limit.title}; here {number(round(float(weights @ amounts), 4))}."


@kept
def _limits_of(
    library: Library, jurisdiction: str, on: date, product: str, area: str, users: tuple[str, ...]
) -> tuple[tuple[ApplicableLimit, Floats], ...]:
    """Return the limits that begin on a day and some material meets, with what a percent of each counts."""
    law = law_for(library, jurisdiction, on)
    masses = molar_masses_of(library)
    begun = [
        limit
        for limit in applicable(law, product, area, users, on)  # type: ignore[arg-type]
        if any(row.valid_from == on for row in limit.rows)
    ]
    rows = [(limit, counted(library, limit, masses)) for limit in begun]
    return tuple((limit, weights) for limit, weights in rows if weights.any())


def _frames(brief: Brief, library: Library, amounts: Floats) -> Iterator[str]:
    """Name the ceilings of the frame formulation for the area that the formula is above (EU and UK)."""
    if brief.law not in ("EU", "UK") or brief.product != "rinse-off":
        return
    for found in exceeded(brief.area, frame_totals(library, amounts)):
        what = " and ".join(found.totals)
        yield (
            f"Above frame formulation {found.number} ({found.title[:1].lower()}{found.title[1:]}): {what} "
            f"{number(round(found.percent, 2))} %, ceiling {number(found.max_percent)} %. Notify the exact "
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
        maybe = [n for n in select(library, wish.kind, wish.word).maybe if amounts[index[n]] > TRACE]
        if maybe:
            names = "; ".join(library.material[name].name for name in maybe)
            yield f"May contain {wish.word}, and is let in because the brief allows the unknown: {names}."


def _extracts(library: Library, amounts: Floats) -> Iterator[str]:
    """Tell how much extract proper dilute extracts bring."""
    told = []
    for position in np.flatnonzero(amounts > TRACE):
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
