"""The arithmetic of a formula done again from the library's files, without any of optiform's code.

Nothing here knows of measures, rows or solvers: it is what a formulator does with a calculator.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

STARTER = Path(__file__).parents[2] / "optiform" / "library" / "starter"


class Shelf(NamedTuple):
    """The rows of a library's tables, as read by the csv module."""

    materials: dict[str, dict[str, str]]
    substances: dict[str, dict[str, str]]
    parts: dict[str, list[tuple[str, float]]]


def shelf(folder: Path = STARTER) -> Shelf:
    def rows(name: str) -> list[dict[str, str]]:
        with (folder / name).open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    parts: dict[str, list[tuple[str, float]]] = {}
    for row in rows("composition.csv"):
        parts.setdefault(row["material"], []).append((row["inci"], float(row["percent"])))
    return Shelf(
        {m["id"]: m for m in rows("materials.csv")}, {s["inci"]: s for s in rows("substances.csv")}, parts
    )


def cost(shelf: Shelf, formula: dict[str, float]) -> float:
    """Return currency per kg: price times percent, over 100."""
    return sum(float(shelf.materials[name]["price"]) * percent for name, percent in formula.items()) / 100


def active_parts(shelf: Shelf, formula: dict[str, float]) -> list[tuple[str, float]]:
    """Return (INCI, % w/w) of every surfactant substance in every surfactant material."""
    return [
        (inci, percent * share / 100)
        for name, percent in formula.items()
        if shelf.materials[name]["function"] == "surfactant"
        for inci, share in shelf.parts[name]
        if shelf.substances[inci]["charge_class"]
    ]


def active_matter(shelf: Shelf, formula: dict[str, float]) -> float:
    return sum(percent for _, percent in active_parts(shelf, formula))


def mildness(shelf: Shelf, formula: dict[str, float]) -> float:
    parts = active_parts(shelf, formula)
    return sum(float(shelf.substances[inci]["mildness"]) * p for inci, p in parts) / sum(p for _, p in parts)


def largest_share(shelf: Shelf, formula: dict[str, float]) -> float:
    """Return the share of the largest single surfactant substance, % of active matter."""
    sums: dict[str, float] = {}
    for inci, percent in active_parts(shelf, formula):
        sums[inci] = sums.get(inci, 0.0) + percent
    return 100 * max(sums.values()) / sum(sums.values())


def of_function(shelf: Shelf, formula: dict[str, float], function: str) -> float:
    return sum(
        percent
        for name, percent in formula.items()
        if function in (shelf.materials[name]["function"], *shelf.materials[name]["also"].split())
    )


def substance(shelf: Shelf, formula: dict[str, float], inci: str) -> float:
    return sum(
        percent * share / 100
        for name, percent in formula.items()
        for found, share in shelf.parts[name]
        if found == inci
    )


def benzoic_as_acid(shelf: Shelf, formula: dict[str, float]) -> float:
    """Return benzoic acid and its sodium salt as acid: times 122.12 / 144.10 for the salt."""
    acid, salt = substance(shelf, formula, "Benzoic Acid"), substance(shelf, formula, "Sodium Benzoate")
    return acid + salt * 122.12 / 144.10


def sorbic_as_acid(shelf: Shelf, formula: dict[str, float]) -> float:
    """Return sorbic acid and its potassium salt as acid: times 112.13 / 150.22 for the salt."""
    acid, salt = substance(shelf, formula, "Sorbic Acid"), substance(shelf, formula, "Potassium Sorbate")
    return acid + salt * 112.13 / 150.22


def has_tag(shelf: Shelf, name: str, tag: str) -> bool:
    """Tell whether a material or anything in it carries a tag, for sure or perhaps."""
    words = set(shelf.materials[name]["tags"].split())
    for inci, _ in shelf.parts[name]:
        words |= set(shelf.substances[inci]["tags"].split())
    return tag in words or f"{tag}?" in words


def totals(shelf: Shelf, formula: dict[str, float]) -> dict[str, float]:
    """Return % w/w by charge class (active) and by function (as supplied)."""
    found: dict[str, float] = {}
    for inci, percent in active_parts(shelf, formula):
        word = shelf.substances[inci]["charge_class"]
        found[word] = found.get(word, 0.0) + percent
    for name, percent in formula.items():
        word = shelf.materials[name]["function"]
        found[word] = found.get(word, 0.0) + percent
    return found
