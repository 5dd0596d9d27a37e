"""Checks what must hold between the tables of a library."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optiform.faults import Fault, Faults
from optiform.library.checking.names import Names
from optiform.library.checking.rule_checks import check_rules
from optiform.library.files.columns import Entries
from optiform.library.models import Frozen, Library, Material, Pack, Part, Substance, TitrationPoint, Trial
from optiform.tolerances import TOLERANCE

LEAST_PKA, MOST_PKA = -10.0, 20.0
"""Strong acids and the ammonia of water lie within; farther out nothing is half ionised in a wash. Our choice."""


@dataclass(frozen=True)
class Draft:
    """A library with the places of its entries, before anyone may rely on it."""

    library: Library
    materials: Entries[Material]
    substances: Entries[Substance]
    parts: Entries[Part]
    titrations: Entries[TitrationPoint]
    trials: Entries[Trial]
    packs: Entries[Pack]
    toml: str = ""

    @classmethod
    def of(cls, library: Library) -> Draft:
        """Take a library that was built in memory; places are then the numbers of its entries."""
        return cls(
            library,
            Entries(None, library.materials),
            Entries(None, library.substances),
            Entries(None, library.parts),
            Entries(None, library.titrations),
            Entries(None, library.trials),
            Entries(None, library.packs),
        )


def faults_of(library: Library) -> tuple[Fault, ...]:
    """Return everything that is wrong with a library built in memory; empty when it is sound."""
    faults = Faults()
    check(Draft.of(library), faults)
    return tuple(faults.found)


def check(draft: Draft, faults: Faults) -> None:
    """Gather everything that does not hold between the tables and rules of a library."""
    materials = Names(sorted(draft.materials.written("id")))
    substances = Names(sorted(draft.substances.written("inci")))
    _check_materials(draft, faults)
    _check_substances(draft, faults)
    _check_parts(draft, materials, substances, faults)
    _check_titrations(draft.titrations, materials, faults)
    for entries in (draft.titrations, draft.trials, draft.packs):
        _check_known(entries, "material", "material", materials, faults)
    check_rules(draft.library, draft.toml, materials, faults)


def _check_materials(draft: Draft, faults: Faults) -> None:
    entries = draft.materials
    _check_unique(entries, "id", entries.texts("id"), faults)
    for i, material in enumerate(entries.items):
        if material.min_if_used > material.max_use:
            _check_order(entries, i, _bounds(material, "min_if_used", "max_use"), faults)
        if material.pH_min is not None:
            _check_order(entries, i, _bounds(material, "pH_min", "pH_max"), faults)
        if material.pH_10_min is not None:
            _check_order(entries, i, _bounds(material, "pH_10_min", "pH_10_max"), faults)
        if material.free_alkali_low is not None or material.free_alkali_high is not None:
            ends = _bounds(material, "free_alkali_low", "free_alkali", "free_alkali_high")
            _check_order(entries, i, ends, faults)
    composed = draft.parts.written("material")
    if composed or draft.parts.table is not None:
        for i, material in enumerate(entries.items):
            if material.id not in composed:
                file, place = entries.place(i, "id")
                faults.add(place, f"the material '{material.id}' has no composition", file=file)
    waters = [entry for entry, function in enumerate(entries.texts("function")) if function == "water"]
    for entry in waters[1:]:
        file, place = entries.spot(entry, "function")
        first = entries.spot(waters[0])[1]
        message = f"a second material has the function water (the first: {first})"
        faults.add(place, message, allowed="exactly one", file=file)
    if not waters and (entries.table is None or "function" in entries.table.cells):
        file = entries.table.file if entries.table is not None else ""
        faults.add("column function", "no material has the function water", allowed="exactly one", file=file)


def _check_substances(draft: Draft, faults: Faults) -> None:
    entries = draft.substances
    _check_unique(entries, "inci", [inci.casefold() for inci in entries.texts("inci")], faults)
    for i, substance in enumerate(entries.items):
        file, place = entries.place(i, "pka")
        for pka in substance.pka:
            if not LEAST_PKA <= pka <= MOST_PKA:
                allowed = f"numbers from {LEAST_PKA:g} to {MOST_PKA:g}"
                faults.add(place, f"{pka:.10g} is no pKa", allowed=allowed, file=file)
        for before, after in itertools.pairwise(substance.pka):
            if before > after:
                message = f"{before:.10g} stands before {after:.10g}"
                faults.add(place, message, allowed="the lowest pKa first", file=file)


def _check_parts(draft: Draft, materials: Names, substances: Names, faults: Faults) -> None:
    entries = draft.parts
    _check_known(entries, "material", "material", materials, faults)
    _check_known(entries, "inci", "substance (INCI name)", substances, faults)
    pairs = list(zip(entries.texts("material"), entries.texts("inci"), strict=False))
    if len(set(pairs)) < len(pairs):
        keys = [f"{material} / {inci}" if material and inci else "" for material, inci in pairs]
        _check_unique(entries, "inci", keys, faults)
    shares: dict[str, list[float]] = defaultdict(list)
    for i, part in enumerate(entries.items):
        shares[part.material].append(part.percent)
        low, high = part.low, part.high
        if (low is not None and low > part.percent) or (high is not None and high < part.percent):
            _check_order(entries, i, _bounds(part, "low", "percent", "high"), faults)
    incomplete = entries.faulty("material")
    first = {material: entry for entry, material in reversed(list(enumerate(entries.texts("material"))))}
    for material, percents in shares.items():
        total = math.fsum(percents)
        if abs(total - 100.0) > TOLERANCE and material in materials and material not in incomplete:
            file, place = entries.spot(first[material], "percent")
            message = f"the composition of '{material}' adds to {total:.10g} %"
            faults.add(place, message, allowed="100 %", file=file)


def _check_titrations(entries: Entries[TitrationPoint], materials: Names, faults: Faults) -> None:
    curves: dict[str, list[int]] = defaultdict(list)
    for i, point in enumerate(entries.items):
        if point.material in materials:
            curves[point.material].append(i)
    incomplete = entries.faulty("material")
    for material, places in curves.items():
        lots = {entries.items[i].lot for i in places}
        file, place = entries.place(places[0])
        if len(lots) > 1:
            message = f"the titration of '{material}' mixes {len(lots)} lots"
            faults.add(place, message, allowed="the points of one lot", file=file)
            continue
        if len(places) < 2 and material not in incomplete:
            message = f"the titration of '{material}' has a single point"
            faults.add(place, message, allowed="two points or more", file=file)
        ordered = sorted(places, key=lambda i: entries.items[i].pH)
        for before, after in itertools.pairwise(ordered):
            low, high = entries.items[before], entries.items[after]
            if low.pH == high.pH or low.acid_mmol_per_kg <= high.acid_mmol_per_kg:
                file, place = entries.place(after, "acid_mmol_per_kg")
                faults.add(
                    place,
                    f"'{material}' takes {high.acid_mmol_per_kg:g} mmol/kg at pH {high.pH:g} "
                    f"but {low.acid_mmol_per_kg:g} at pH {low.pH:g}",
                    allowed="less acid the higher the pH",
                    file=file,
                )


def _check_unique(entries: Entries[Frozen], column: str, keys: Sequence[str], faults: Faults) -> None:
    """Note every entry whose key stood in an earlier one."""
    if len(set(keys)) == len(keys):
        return
    seen: dict[str, int] = {}
    for entry, key in enumerate(keys):
        if key and seen.setdefault(key, entry) != entry:
            file, place = entries.spot(entry, column)
            written = key if "/" in key else entries.texts(column)[entry]
            faults.add(place, f"'{written}' stands already in {entries.spot(seen[key])[1]}", file=file)


def _check_known(entries: Entries[Frozen], column: str, what: str, names: Names, faults: Faults) -> None:
    if not names.known:
        return
    wrong = set(entries.texts(column)).difference(names.known, [""])
    for entry, name in enumerate(entries.texts(column)) if wrong else ():
        if name in wrong:
            file, place = entries.spot(entry, column)
            message = f"there is no {what} '{name}' in the library"
            faults.add(place, message, nearest=names.nearest(name), file=file)


def _bounds(entry: Frozen, *names: str) -> list[tuple[str, float | None]]:
    return [(name, getattr(entry, name)) for name in names]


def _check_order(
    entries: Entries[Frozen], i: int, values: Iterable[tuple[str, float | None]], faults: Faults
) -> None:
    """Note values that should rise and do not."""
    stated = [(name, value) for name, value in values if value is not None]
    for (lower, low), (upper, high) in itertools.pairwise(stated):
        if low > high:
            file, place = entries.place(i, lower)
            message = f"{lower} {low:.10g} is above {upper} {high:.10g}"
            faults.add(place, message, allowed=f"{lower} <= {upper}", file=file)
