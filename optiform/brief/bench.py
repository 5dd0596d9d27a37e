"""What the bench of a brief knows: measures, gates and free alkali, from the trials of one base."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from optiform.library.models import Library
from optiform.measures.conditions import BenchKnowledge
from optiform.measures.learned_alkali import learned_alkali
from optiform.trials.learned import learned_measures
from optiform.trials.models import Bench, Trial
from optiform.trials.reading import load_bench
from optiform.vectors import Floats


@dataclass(frozen=True, eq=False)
class Gate:
    """The trials of a base that passed a gate.

    Attributes
    ----------
    materials : tuple of str
        Ids of everything that was weighed in any of them but water.
    passed : ndarray, shape (trials, materials)  [% w/w]
    base : frozenset of str
    """

    name: str
    materials: tuple[str, ...] = field(repr=False)
    passed: Floats = field(repr=False)
    base: frozenset[str] = field(repr=False)


def bench_knowledge(folder: str | Path, library: Library) -> tuple[BenchKnowledge, tuple[str, ...]]:
    """Return what the trials of a folder say, and what a reader must know of it.

    What was learned in one base tells nothing of another: the base with the most trials is taken, the first of these.

    Raises
    ------
    BadInput
        With every fault of the folder.
    """
    bench = load_bench(folder, library)
    bases = bench.bases(library)
    if not bases:
        return BenchKnowledge(), ("The bench holds no trial yet.",)
    base = max(bases, key=lambda one: len(bases[one]))
    measures = tuple(one for one in learned_measures(bench, library) if one.base == base)
    gates = tuple(_gate(name, bases[base], library, base) for name in bench.gates)
    notes = [] if len(bases) == 1 else [_taken(base, len(bases[base]), bench, library)]
    alkali = learned_alkali(bench, library)
    if alkali is not None and alkali.told:
        names = ", ".join(library.material[name].name for name in alkali.told)
        notes.append(f"Free alkali as the readings of pH in {folder} say, not as the library does: {names}.")
    return BenchKnowledge(measures, gates, alkali), tuple(notes)


def _gate(name: str, trials: tuple[Trial, ...], library: Library, base: frozenset[str]) -> Gate:
    """Return the trials of a base that passed a gate; one that was not looked at counts as not passed."""
    held = [trial.percents for trial in trials if trial.passed(name)]
    materials = tuple(
        m.id for m in library.materials if m.id != library.water.id and any(m.id in one for one in held)
    )
    passed = np.array([[one.get(material, 0.0) for material in materials] for one in held])
    return Gate(name, materials, passed.reshape(len(held), len(materials)), base)


def _taken(base: frozenset[str], count: int, bench: Bench, library: Library) -> str:
    names = ", ".join(library.material[name].name for name in sorted(base))
    return (
        f"The bench tried several sets of surfactants and thickeners; what it teaches here is of {names} "
        f"({count} of {len(bench.trials)} trials)."
    )
