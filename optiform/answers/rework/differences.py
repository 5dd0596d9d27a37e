"""Tells every difference between two formulas, line by line and measure by measure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from optiform.answers.model.changes import (
    LineChange,
    LineKind,
    MeasureChange,
    PropertyChange,
    SubstanceChange,
)
from optiform.brief.models import Brief
from optiform.library.models import Library
from optiform.library.selection import select
from optiform.measures import Catalogue, Measure
from optiform.measures.parts import CHARGE_CLASSES, known_tags
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats

INJURES = ("eye-damage", "corrosive")
CLARITY = ("clear", "hazy", "pearl", "opaque")
FIRST_TAGS = (
    "palm",
    "allergen",
    "sulfate",
    "ethoxylated",
    "animal",
    "nut",
    "gluten",
    "silicone",
    "microplastic",
)


def line_changes(library: Library, before: Floats, after: Floats) -> tuple[LineChange, ...]:
    """Return every material whose amount differs, the dearest difference first; amounts have shape (n,) [% w/w]."""
    found = []
    for index in np.flatnonzero(np.abs(after - before) > ROUNDING):
        material, old, new = library.materials[index], float(before[index]), float(after[index])
        kind: LineKind = (
            "new" if old <= ROUNDING else "dropped" if new <= ROUNDING else "more" if new > old else "less"
        )
        found.append(
            LineChange(material.id, material.name, kind, old, new, material.price * (new - old) / 100.0)
        )
    return tuple(sorted(found, key=lambda change: (-abs(change.cost), change.material)))


def measure_changes(catalogue: Catalogue, before: Floats, after: Floats) -> tuple[MeasureChange, ...]:
    """Return every measure that differs: the named ones, then each function, tag, share and weak acid."""
    found = []
    for name in measure_names(catalogue):
        measure = catalogue.find(name)
        old, new = measure.value(before), measure.value(after)
        if not _same(old, new):
            found.append(MeasureChange(name, measure.unit, old, new, measure.digits, measure.better))
    return tuple(found)


def measure_names(catalogue: Catalogue) -> tuple[str, ...]:
    """Return every measure that a formula of this library has, substances and materials apart."""
    library = catalogue.library
    functions = sorted({word for material in library.materials for word in material.functions})
    acids = [substance.inci for substance in library.substances if substance.pka]
    return (
        *catalogue.names(),
        *(f"function:{word}" for word in functions),
        *(f"tag:{word}" for word in sorted(known_tags(library))),
        *(f"share:{word}" for word in (*CHARGE_CLASSES, *sorted(known_tags(library)))),
        *(f"undissociated:{inci}" for inci in acids),
    )


def substance_changes(library: Library, before: Floats, after: Floats) -> tuple[SubstanceChange, ...]:
    """Return every substance whose amount differs, traces of making included, the largest difference first."""
    arrays = library.arrays
    old, new = arrays.substance_percent(before), arrays.substance_percent(after)
    traces = _only_traces(library)
    places = np.flatnonzero(np.abs(new - old) > ROUNDING)
    order = sorted(places, key=lambda k: (-abs(new[k] - old[k]), arrays.substances[k]))
    names = arrays.substances
    return tuple(SubstanceChange(names[k], float(old[k]), float(new[k]), names[k] in traces) for k in order)


def property_changes(
    brief: Brief, catalogue: Catalogue, before: Floats, after: Floats, systems: tuple[str | None, str | None]
) -> tuple[PropertyChange, ...]:
    """Return what changed although nobody asked: allergens, tags, label, clarity, heat, preservation.

    Parameters
    ----------
    systems : (str or None, str or None)
        The preservative system before and after.
    """
    library = brief.library
    pairs = [
        ("preservative system", systems[0] or "none", systems[1] or "none"),
        *_label_pairs(brief, before, after),
        ("natural origin", *(_percent(catalogue.find("natural origin"), a) for a in (before, after))),
        ("clarity of the cloudiest material", *(_clarity(library, a) for a in (before, after))),
        ("heat needed", *(_heat(library, a) for a in (before, after))),
    ]
    sets = [
        _set_change(what, *(names(library, a, *words) for a in (before, after)))
        for what, names, words in (
            ("thickened by", _names, ("thickener",)),
            ("scented by", _names, ("fragrance",)),
            ("injures eyes and skin as it is weighed", _handled, INJURES),
            ("powder that must not be breathed", _handled, ("dust",)),
        )
    ]
    first = [tag for tag in FIRST_TAGS if tag in known_tags(library)]
    for tag in (*first, *sorted(known_tags(library) - set(first))):
        old, new = tag_status(library, before, tag), tag_status(library, after, tag)
        pairs += [(f"has something tagged {tag}", old, new)]
    told = [*(PropertyChange(pair[0], pair[1], pair[2]) for pair in pairs), *sets]
    return tuple(change for change in told if change.before != change.after)


def _set_change(what: str, old: Sequence[str], new: Sequence[str]) -> PropertyChange:
    """Return the change of a set of names: all of them before and after, and those that went and came."""
    gone = tuple(name for name in sorted(old) if name not in new)
    come = tuple(name for name in sorted(new) if name not in old)
    return PropertyChange(what, _listed(old), _listed(new), gone, come)


def tag_status(library: Library, amounts: Floats, tag: str) -> str:
    """Tell whether a formula has something with a tag: yes, may, or no."""
    chosen = select(library, "tag", tag)
    index = library.arrays.material_index
    if any(amounts[index[name]] > 0 for name in chosen.sure):
        return "yes"
    return "may" if any(amounts[index[name]] > 0 for name in chosen.maybe) else "no"


def _label_pairs(brief: Brief, before: Floats, after: Floats) -> list[tuple[str, str, str]]:
    """Return the ingredient list and the allergens that it must name, before and after.

    A brief without law is read as one for the EU: a change that a reader must know of is told all the same.
    """
    from optiform.answers.describe.label_list import label_of

    read = brief.model_copy(update={"law": "EU"}) if brief.law == "none" else brief
    old, new = (label_of(read, brief.library, amounts) for amounts in (before, after))
    return [
        (
            "allergens to declare",
            _listed(d.name for d in old.declared),
            _listed(d.name for d in new.declared),
        ),
        ("ingredient list", ", ".join(e.name for e in old.entries), ", ".join(e.name for e in new.entries)),
    ]


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names)) or "none"


def _percent(measure: Measure, amounts: Floats) -> str:
    value = measure.value(amounts)
    return "unknown" if value is None else f"{value:.0f} %"


def _used(library: Library, amounts: Floats) -> list[int]:
    return [
        int(index)
        for index in np.flatnonzero(amounts > ROUNDING)
        if library.materials[index].function != "water"
    ]


def _names(library: Library, amounts: Floats, function: str) -> list[str]:
    return [
        library.materials[i].name
        for i in _used(library, amounts)
        if function in library.materials[i].functions
    ]


def _clarity(library: Library, amounts: Floats) -> str:
    found = [library.materials[i].clarity for i in _used(library, amounts)]
    return max((word for word in found if word), key=CLARITY.index, default="unknown")


def _heat(library: Library, amounts: Floats) -> str:
    found = [library.materials[i].add_above_C for i in _used(library, amounts)]
    highest = max((degrees for degrees in found if degrees is not None), default=None)
    return "none" if highest is None else f"{highest:.0f} C"


def _handled(library: Library, amounts: Floats, *words: str) -> list[str]:
    return [
        library.materials[i].name
        for i in _used(library, amounts)
        if set(words) & set(library.materials[i].handling)
    ]


def _only_traces(library: Library) -> set[str]:
    """Return the substances that the library knows only as impurities."""
    real = {part.inci for part in library.parts if part.label != "impurity"}
    return {part.inci for part in library.parts} - real


def _same(old: float | None, new: float | None) -> bool:
    if old is None or new is None:
        return old is new
    return abs(old - new) <= ROUNDING * max(1.0, abs(old), abs(new))
