"""Checks what must hold between the tables of a library."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from optiform.faults import Fault, Faults
from optiform.library.checking.names import Names
from optiform.library.checking.rule_checks import check_rules
from optiform.library.files.columns import Entries
from optiform.library.models import Frozen, Library, Material, Part, Substance, TitrationPoint
from optiform.tolerances import TOLERANCE

LEAST_PKA, MOST_PKA = -10.0, 20.0
"""Strong acids and the ammonia of water lie within; farther out nothing is half ionised in a wash. Our choice."""


TABLES = ("materials", "substances", "parts", "titrations", "trials", "packs")
"""Fields of a library that tables hold."""


def faults_of(library: Library) -> tuple[Fault, ...]:
    """Return everything that is wrong with a library built in memory; empty when it is sound."""
    faults = Faults()
    check(library, {name: Entries(None, getattr(library, name)) for name in TABLES}, faults)
    return tuple(faults.found)


def check(library: Library, tables: Mapping[str, Entries[Any]], faults: Faults, toml: str = "") -> None:
    """Gather everything that does not hold between the tables and rules of a library.

    Parameters
    ----------
    tables : mapping of str to Entries
        The entries with their places, by the field of the library that they fill.
    toml : str
        The file of its rules.
    """
    materials = Names(sorted(tables["materials"].written("id")))
    substances = Names(sorted(tables["substances"].written("inci")))
    _check_materials(tables["materials"], tables["parts"], faults)
    _check_substances(tables["substances"], faults)
    _check_parts(tables["parts"], materials, substances, faults)
    _check_titrations(tables["titrations"], materials, faults)
    for name in ("titrations", "trials", "packs"):
        _check_known(tables[name], "material", "material", materials, faults)
    check_rules(library, toml, materials, faults)


def _check_materials(entries: Entries[Material], parts: Entries[Part], faults: Faults) -> None:
    _check_unique(entries, "id", entries.texts("id"), faults)
    for i, material in enumerate(entries.items):
        if material.min_if_used > material.max_use:
            _check_order(entries, i, ("min_if_used", "max_use"), faults)
        if material.pH_min is not None:
            _check_order(entries, i, ("pH_min", "pH_max"), faults)
        if material.pH_10_min is not None:
            _check_order(entries, i, ("pH_10_min", "pH_10_max"), faults)
        if material.free_alkali_low is not None or material.free_alkali_high is not None:
            _check_order(entries, i, ("free_alkali_low", "free_alkali", "free_alkali_high"), faults)
    composed = parts.written("material")
    if composed or parts.table is not None:
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


def _check_substances(entries: Entries[Substance], faults: Faults) -> None:
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


def _check_parts(entries: Entries[Part], materials: Names, substances: Names, faults: Faults) -> None:
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
            _check_order(entries, i, ("low", "percent", "high"), faults)
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
                here = f"{high.acid_mmol_per_kg:g} mmol/kg at pH {high.pH:g}"
                message = f"'{material}' takes {here} but {low.acid_mmol_per_kg:g} at pH {low.pH:g}"
                faults.add(place, message, allowed="less acid the higher the pH", file=file)


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


def _check_order(entries: Entries[Frozen], i: int, names: Iterable[str], faults: Faults) -> None:
    """Note values of an entry that should rise and do not."""
    values = ((name, getattr(entries.items[i], name)) for name in names)
    stated = [(name, value) for name, value in values if value is not None]
    for (lower, low), (upper, high) in itertools.pairwise(stated):
        if low > high:
            file, place = entries.place(i, lower)
            message = f"{lower} {low:.10g} is above {upper} {high:.10g}"
            faults.add(place, message, allowed=f"{lower} <= {upper}", file=file)
