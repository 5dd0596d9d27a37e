"""Small libraries built in memory from short dicts, for the tests of every room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from optiform.library.models import Library, Material, Part, Substance

NEUTRAL = {"charge_acid_form": 0.0, "strong_charge": 0.0}


def tiny_library(
    materials: Sequence[Mapping[str, Any]],
    substances: Sequence[Mapping[str, Any]] = (),
    parts: Mapping[str, Mapping[str, float]] | None = None,
    **library_fields: Any,
) -> Library:
    """Build a `Library` value without any file.

    Parameters
    ----------
    materials : sequence of dict
        Fields of `Material`; only `id` is needed. The name defaults to the id in words, the
        function to ``other`` and the price to 1.0. A material ``water`` (function water, price 0,
        Aqua 100 %) comes first unless one of the materials has the function water.
    substances : sequence of dict
        Fields of `Substance`; only `inci` is needed. What is written is what is known: leave the
        charge fields out to get a substance of unknown charge.
    parts : dict of dict, optional
        Per material id: % w/w of each INCI name. What is missing to 100 is Aqua. A material
        without parts consists of a substance of its own name.
    **library_fields
        Further fields of `Library`: rules, systems, measures, titrations, trials, packs, name ...

    Returns
    -------
    Library
        Substances that are named in `parts` only are added as known neutral and without class.
    """
    specs = [
        {"function": "other", "price": 1.0, "name": spec["id"].replace("-", " ").capitalize(), **spec}
        for spec in materials
    ]
    composition = {material: dict(held) for material, held in (parts or {}).items()}
    if not any(spec["function"] == "water" for spec in specs):
        specs.insert(0, {"id": "water", "name": "Water", "function": "water", "price": 0.0})
    for spec in specs:
        own_name = "Aqua" if spec["function"] == "water" else spec["name"]
        held = composition.setdefault(spec["id"], {own_name: 100.0})
        rest = 100.0 - sum(held.values())
        if rest > 1e-9:
            held["Aqua"] = held.get("Aqua", 0.0) + rest
    known: dict[str, dict[str, Any]] = {"Aqua": {"inci": "Aqua", "molar_mass": 18.015, "natural_origin": 1.0}}
    for substance in substances:
        known[substance["inci"]] = {**known.get(substance["inci"], {}), **substance}
    for held in composition.values():
        for inci in held:
            known.setdefault(inci, {"inci": inci, **NEUTRAL})
    return Library(
        **{"name": "tiny", **library_fields},
        substances=tuple(Substance(**fields) for fields in known.values()),
        materials=tuple(Material(**fields) for fields in specs),
        parts=tuple(
            Part(material=material, inci=inci, percent=percent)
            for material, held in composition.items()
            for inci, percent in held.items()
        ),
    )
