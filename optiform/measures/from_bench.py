"""What the trials of a bench say to a brief: fitted measures, gates, and the free alkali of materials."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.measures.conditions import BenchKnowledge
from optiform.measures.learned_alkali import learned_alkali
from optiform.trials.learned import learned_measures

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from optiform.library.models import Library
    from optiform.trials.learned import LearnedMeasure
    from optiform.trials.models import Bench, Trial

    Floats = NDArray[np.float64]

TOLD = 0.2
"""A material of whose alkali the trials say less than this part keeps the library's word."""


@dataclass(frozen=True, eq=False)
class PassedGate:
    """The trials of one base that passed a gate.

    Attributes
    ----------
    materials : tuple of str
        Ids of everything that was weighed in any of them but water.
    passed : ndarray, shape (trials, materials)  [% w/w]
    base : frozenset of str
    """

    name: str
    materials: tuple[str, ...]
    passed: Floats = field(repr=False)
    base: frozenset[str]


def bench_knowledge(bench: Bench, library: Library) -> BenchKnowledge:
    """Return what the trials of a bench say; of several bases the one with the most trials of each measure or gate."""
    taught: dict[str, LearnedMeasure] = {}
    for found in learned_measures(bench, library):
        if found.name not in taught or len(found.trials) > len(taught[found.name].trials):
            taught[found.name] = found
    bases = bench.bases(library)
    gates = []
    for name in bench.gates:
        passed = {base: [one for one in trials if one.passed(name)] for base, trials in bases.items()}
        base = max(passed, key=lambda one: len(passed[one]))
        gates.append(_gate(name, base, passed[base], library))
    return BenchKnowledge(tuple(taught.values()), tuple(gates))


def _gate(name: str, base: frozenset[str], trials: Sequence[Trial], library: Library) -> PassedGate:
    held = {material for trial in trials for material in trial.percents} - {library.water.id}
    materials = tuple(material.id for material in library.materials if material.id in held)
    rows = [[trial.percents.get(material, 0.0) for material in materials] for trial in trials]
    return PassedGate(name, materials, np.array(rows).reshape(len(trials), len(materials)), base)


def corrected_by(bench: Bench, library: Library) -> tuple[Library, tuple[str, ...]]:
    """Return the library with the free alkali that readings of pH taught, and the materials that it changes."""
    found = learned_alkali(bench, library)
    if found is None:
        return library, ()
    told = found.told(TOLD)
    return found.corrected(library, told), tuple(library.material[name].name for name in told)
