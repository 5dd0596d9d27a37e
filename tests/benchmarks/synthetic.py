"""Large made-up libraries on the pattern of the starter library: the same kinds of material, from many suppliers.

Each material of the starter library appears as many offers of one: other prices, strengths, use
levels, sometimes another pH window. Rules, tags, preservative systems and substances are those of
the starter library, so that every kind of rule is at work at every size. All figures are invented.
"""

from __future__ import annotations

import csv
import math
import random
from pathlib import Path

from optiform.library import Library, load_library
from optiform.library.models import Material, Part
from optiform.library.selection import select

SPREAD = 0.25
"""Prices, strengths and use levels of the offers lie within about this part of the pattern's."""

ASKED_FOR = ("nettle-extract", "calendula-extract")
"""Materials that the briefs of the benchmarks include by name."""


def synthetic_library(materials: int, seed: int = 1) -> Library:
    """Return a library of so many materials, the starter library's own among them where there is room."""
    pattern = load_library()
    if materials <= len(pattern.materials):
        return _fewer(pattern, materials, seed)
    draw = random.Random(seed)
    offers = [*pattern.materials]
    parts = [*pattern.parts]
    members = {member for system in pattern.systems for member in system.members}
    named = _named(pattern)
    kinds = [
        m for m in pattern.materials if m.function != "water" and m.id not in members and m.id not in named
    ]
    while len(offers) < materials:
        kind = kinds[len(offers) % len(kinds)]
        material, held = _offer(kind, pattern.composition[kind.id], len(offers), draw)
        offers.append(material)
        parts.extend(held)
    return pattern.model_copy(
        update={"name": f"made up, {materials} materials", "materials": tuple(offers), "parts": tuple(parts)}
    )


def write_library(library: Library, folder: Path) -> Path:
    """Write the files of a library whose rules are those of the starter library."""
    folder.mkdir(parents=True, exist_ok=True)
    starter = Path(load_library().folder)
    for name in ("library.toml", "substances.csv"):
        (folder / name).write_bytes((starter / name).read_bytes())
    _write(folder / "materials.csv", [_cells(material) for material in library.materials])
    _write(
        folder / "composition.csv",
        [
            {
                "material": part.material,
                "inci": part.inci,
                "percent": f"{part.percent:.10g}",
                "label": part.label,
            }
            for part in library.parts
        ],
    )
    return folder


def _named(pattern: Library) -> set[str]:
    """Return the materials that a rule names alone; offers of theirs would slip past the rule."""
    return {reference.removeprefix("material:") for reference in _references(pattern)}


def _tagged(pattern: Library) -> set[str]:
    """Return one material for each tag that a rule names."""
    tags = {reference.removeprefix("tag:") for reference in _references(pattern) if reference[:4] == "tag:"}
    found = [select(pattern, "tag", tag) for tag in sorted(tags)]
    return {(one.sure or one.maybe)[0] for one in found if one.sure or one.maybe}


def _references(pattern: Library) -> list[str]:
    """Return what the rules of a library name, as they write it."""
    rules = pattern.rules
    return [
        *(rule.material for rule in (*rules.needs, *rules.when)),
        *(rule.other for rule in (*rules.needs, *rules.incompatible)),
        *(rule.one for rule in rules.incompatible),
        *(term.material or "" for rule in rules.linear for term in rule.terms),
    ]


def _fewer(pattern: Library, materials: int, seed: int) -> Library:
    """Return a library with some materials left out, none that a rule, a system or a shipped brief names.

    Those alone are some sixty, so that the smallest library has a few more materials than were asked for.
    """
    held = {"water", *(member for system in pattern.systems for member in system.members), *_named(pattern)}
    functions = {material.function: material.id for material in reversed(pattern.materials)}
    held |= set(functions.values()) | _tagged(pattern) | set(ASKED_FOR)
    others = [m.id for m in pattern.materials if m.id not in held]
    random.Random(seed).shuffle(others)
    kept = held | set(others[: max(0, materials - len(held & set(pattern.material)))])
    return pattern.model_copy(
        update={
            "name": f"made up, {materials} materials",
            "materials": tuple(m for m in pattern.materials if m.id in kept),
            "parts": tuple(part for part in pattern.parts if part.material in kept),
        }
    )


def _offer(
    kind: Material, held: tuple[Part, ...], number: int, draw: random.Random
) -> tuple[Material, list[Part]]:
    """Return one more offer of a material: its figures drawn around the pattern's."""
    strength = 1.0 + SPREAD * draw.uniform(-1.0, 1.0)
    parts = _diluted(held, strength)
    times = sum(part.percent for part in parts if part.inci != "Aqua") / max(
        1e-9, sum(part.percent for part in held if part.inci != "Aqua")
    )
    price = kind.price * times * math.exp(SPREAD * draw.gauss(0.0, 1.0))
    least = round(kind.min_if_used * draw.choice((0.5, 1.0, 1.0, 2.0)), 4)
    name = f"{kind.id}-{number}"
    material = kind.model_copy(
        update={
            "id": name,
            "name": f"{kind.name}, offer {number}",
            "price": round(price, 2),
            "min_if_used": min(least, kind.max_use),
            "free_alkali": round(kind.free_alkali * times, 4),
        }
    )
    return material, [part.model_copy(update={"material": name}) for part in parts]


def _diluted(held: tuple[Part, ...], strength: float) -> list[Part]:
    """Return a composition with more or less water in it, still 100 %; without water it stays as it is."""
    active = round(sum(part.percent for part in held if part.inci != "Aqua"), 10)
    if active >= 100.0 or active <= 0.0:
        return [part.model_copy(update={"low": None, "high": None}) for part in held]
    times = min(strength, 99.0 / active)
    parts = [
        part.model_copy(update={"percent": round(part.percent * times, 4), "low": None, "high": None})
        for part in held
        if part.inci != "Aqua"
    ]
    water = next(part for part in held if part.inci == "Aqua")
    rest = round(100.0 - sum(part.percent for part in parts), 4)
    return [*parts, water.model_copy(update={"percent": rest, "low": None, "high": None})]


def _cells(material: Material) -> dict[str, str]:
    """Return a row of materials.csv."""
    plain = (
        "id",
        "name",
        "function",
        "phase",
        "price",
        "min_if_used",
        "max_use",
        "pH_min",
        "pH_max",
        "free_alkali",
    )
    row = {name: "" if getattr(material, name) is None else str(getattr(material, name)) for name in plain}
    row |= {name: " ".join(getattr(material, name)) for name in ("also", "handling", "tags")}
    row["natural_origin"] = "" if material.natural_origin is None else str(material.natural_origin)
    return {**row, "trust": "invented", "source": "invented"}


def _write(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
