"""Returns what a brief's bench tells: measures, gates and free alkali, from the trials of one base."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.library.selection import select
from optiform.measures.conditions import BenchKnowledge, Gate

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from pathlib import Path

    from optiform.brief.models import Brief, Include
    from optiform.library.models import Library
    from optiform.trials.models import Bench, Trial
    from optiform.vectors import Floats


def bench_knowledge(
    folder: str | Path, library: Library, includes: Iterable[Include] = (), asked: Collection[str] = ()
) -> tuple[BenchKnowledge, tuple[str, ...]]:
    """Return what the trials of a folder say, and what a reader must know of it.

    What was learned in one base tells nothing of another. Of several the one is taken that holds what a brief includes,
    tells most of what it asks for, and was tried most; the others stand beside it.

    Parameters
    ----------
    includes : iterable of Include
        What must be in every formula.
    asked : collection of str
        Names of measures and gates that the brief asks for.

    Raises
    ------
    BadInput
        With every fault of the folder.
    """
    from optiform.measures.learned_alkali import learned_alkali
    from optiform.trials.doubts import doubts
    from optiform.trials.learned import learned_measures
    from optiform.trials.reading import load_bench

    bench = load_bench(folder, library)
    bases = bench.bases(library)
    if not bases:
        return BenchKnowledge(), ("The bench holds no trial yet.",)
    alkali, measures = learned_alkali(bench, library), learned_measures(bench, library)
    found = [
        BenchKnowledge(
            tuple(one for one in measures if one.base == base),
            tuple(_gate(name, trials, library, base) for name in bench.gates),
            alkali,
            base,
            told="" if len(bases) == 1 else _taken(base, len(trials), bench, library),
        )
        for base, trials in bases.items()
    ]
    needed = [select(library, include.kind, include.word).sure for include in includes]

    def worth(one: BenchKnowledge) -> tuple[bool, int, int]:
        holds = all(_holds(one.base, materials, library) for materials in needed)
        return holds, sum(measure.name in asked for measure in one.taught), len(bases[one.base])

    first = max(found, key=worth)
    notes = [first.told] if first.told else []
    if alkali is not None and alkali.told:
        names = ", ".join(library.material[name].name for name in alkali.told)
        notes.append(f"Free alkali as the readings of pH in {folder} say, not as the library does: {names}.")
    asked_about = doubts(bench, library)
    if asked_about:
        trials = ", ".join(dict.fromkeys(doubt.trial for doubt in asked_about))
        notes.append(
            f"In {folder} the others do not predict a reading of trial {trials}: `optiform trial list` asks."
        )
    others = tuple(one for one in found if one is not first)
    return replace(first, others=others), tuple(notes)


def _holds(base: frozenset[str], materials: tuple[str, ...], library: Library) -> bool:
    """Tell whether formulas of a base can hold one of these materials."""
    from optiform.trials.models import STRUCTURAL

    structural = [one for one in materials if STRUCTURAL.intersection(library.material[one].functions)]
    return len(structural) < len(materials) or not materials or not base.isdisjoint(structural)


def with_base(brief: Brief, chosen: BenchKnowledge) -> Brief:
    """Return a brief with what the trials of another base of its bench say."""
    before = brief.known
    if chosen is before:
        return brief
    notes = tuple(chosen.told if note == before.told else note for note in brief.notes)
    return brief.model_copy(update={"known": before.in_base(chosen), "notes": notes})


def base_of_formula(brief: Brief, amounts: Floats) -> Brief:
    """Return a brief with what the trials of a formula's own base say; `amounts` has shape (n,)  [% w/w]."""
    known, materials = brief.known, brief.library.materials
    if not known.others:
        return brief
    from optiform.trials.models import STRUCTURAL

    used = (material for material, percent in zip(materials, amounts, strict=True) if percent > 0)
    structural = frozenset(one.id for one in used if STRUCTURAL.intersection(one.functions))
    holding = [one for one in (known, *known.others) if structural <= one.base]
    return with_base(brief, min(holding, key=lambda one: len(one.base), default=known))


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
