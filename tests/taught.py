"""A bench in memory: invented trials of a nettle wash, and what they teach, for tests of margins."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.brief.reading import brief_from
from optiform.learning.conjugate import NormalInverseGamma, prior
from optiform.measures.conditions import BenchKnowledge
from tests.builders import tiny_library

TERMS = ("foamer", "betaine", "gum", "salt", "nettle")
TRUTH = {"viscosity": (0.10, 0.12, 0.85, 0.35, 0.01), "foam": (9.0, 6.0, -8.0, -3.0, -0.5)}
TRIALS = np.array(
    [
        [10.0, 4.0, 1.0, 0.5, 1.0],
        [12.0, 4.0, 0.8, 0.5, 1.0],
        [8.0, 6.0, 1.2, 0.5, 1.0],
        [10.0, 6.0, 0.6, 1.0, 1.0],
        [12.0, 5.0, 1.2, 1.0, 1.0],
        [9.0, 5.0, 0.8, 1.5, 1.0],
        [11.0, 6.0, 1.0, 1.5, 1.0],
        [10.0, 5.0, 1.0, 1.0, 1.0],
        [10.0, 5.0, 1.0, 1.0, 1.0],
    ]
)
"""Invented: grams per 100 g of foamer, betaine, gum, salt and nettle."""


@dataclass(frozen=True, eq=False)
class Lesson:
    """What stands in for a measure that a bench taught."""

    name: str
    scale: str
    knowledge: NormalInverseGamma = field(repr=False)
    materials: tuple[str, ...] = TERMS
    base: frozenset[str] = frozenset({"foamer", "betaine", "gum"})
    rows: np.ndarray = field(default_factory=lambda: TRIALS, repr=False)
    electrolyte: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Gate:
    """What stands in for the trials that passed a gate."""

    name: str
    passed: np.ndarray
    materials: tuple[str, ...] = TERMS
    base: frozenset[str] = frozenset({"foamer", "betaine", "gum"})


def lesson(name="viscosity", trials=9) -> Lesson:
    """Learn a measure from invented readings of so many trials, noise drawn by a fixed seed."""
    rng = np.random.default_rng(7)
    truth = np.array(TRUTH[name])
    noise = 0.05 if name == "viscosity" else 3.0
    rows = TRIALS[:trials]
    readings = rows @ truth + noise * rng.standard_normal(len(TRIALS))[:trials]
    before = prior(truth * 0.9, np.abs(truth) * 0.4, 2.0 * noise)
    scale = "log10" if name == "viscosity" else "identity"
    return Lesson(name, scale, before.updated(rows, readings), rows=rows)


def bent_lesson() -> Lesson:
    """Learn a viscosity with a peak at 1.25 % of salt, from the same trials and two further ones, all invented."""
    rng = np.random.default_rng(7)
    truth = np.array([0.10, 0.12, 0.85, 1.0, 0.01, -0.4])
    amounts = np.vstack([TRIALS, [10.0, 5.0, 1.0, 2.4, 1.0], [9.0, 6.0, 0.9, 0.0, 1.0]])
    rows = np.column_stack([amounts, amounts[:, 3] ** 2])
    before = prior(truth * 0.9, np.abs(truth) * 0.4, 0.1)
    knowledge = before.updated(rows, rows @ truth + 0.05 * rng.standard_normal(len(rows)))
    return Lesson("viscosity", "log10", knowledge, rows=rows, electrolyte=(0.0, 0.0, 0.0, 1.0, 0.0))


def known(*names, gates=()) -> BenchKnowledge:
    """Return what the bench says of some measures, and which trials passed gates."""
    return BenchKnowledge(tuple(lesson(name) for name in names or ("viscosity", "foam")), tuple(gates))


def library():
    """Return water, two surfactants that were tried and one that was not, two thickeners, salt and an extract."""
    return tiny_library(
        [
            {"id": "foamer", "function": "surfactant", "price": 4.0, "max_use": 20.0, "min_if_used": 1.0},
            {"id": "betaine", "function": "surfactant", "price": 6.0, "max_use": 12.0, "min_if_used": 1.0},
            {"id": "glucoside", "function": "surfactant", "price": 2.0, "max_use": 20.0, "min_if_used": 1.0},
            {"id": "gum", "function": "thickener", "price": 22.0, "max_use": 2.0, "min_if_used": 0.1},
            {"id": "pectin", "function": "thickener", "price": 12.0, "max_use": 2.0, "min_if_used": 0.1},
            {"id": "salt", "function": "other", "price": 0.5, "max_use": 3.0},
            {"id": "nettle", "function": "other", "price": 9.0, "max_use": 5.0},
        ]
    )


def wash(targets=None, measures=("viscosity", "foam"), gates=(), **keys):
    """Return a brief for a wash with at least 12 % of surfactants and what else is asked of it."""
    mapping = {
        "title": "nettle wash",
        "law": "none",
        "targets": {"function:surfactant": {"at_least": 12.0}, **(targets or {})},
        "include": [{"material": "nettle", "at_least": 1.0}],
        "ranked": {"how_many": 2},
        **keys,
    }
    return brief_from(mapping, library(), known=known(*measures, gates=gates))
