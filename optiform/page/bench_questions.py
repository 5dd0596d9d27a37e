"""Answers the questions of pages about trials: a bench, one trial, what to weigh, which come next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from optiform.page.listing import remembered_library
from optiform.page.questions import Listed, Told, html_of, result_page

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.answers.trials.planned import PlannedLine
    from optiform.solver import Progress
    from optiform.trials.models import Bench


@dataclass(frozen=True)
class Branch:
    """One trial of the tree: its name, a line on it, and the trials that change it."""

    name: str
    words: str
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class ToldTrials(Told):
    """A bench as a page shows it."""

    tree: tuple[Branch, ...] = ()


def trials(bench: str, library: str, *, progress: Progress | None = None) -> ToldTrials:
    """List the trials of a bench, and tell what they taught where something was read."""
    import optiform
    from optiform.trials.reading import load_bench
    from optiform.views.results.trials.listing import at_a_glance, beside_the_list

    name, held = Path(bench).name, remembered_library(library or None)
    listed = replace(optiform.list_trials(bench, library=held), title=name)
    told = html_of(beside_the_list(listed))
    if any(trial.readings for trial in listed.trials):
        told += result_page(replace(optiform.learn(bench, library=held), title=name)).body
    words = {one.name: at_a_glance(one) for one in listed.trials}
    return ToldTrials(f"Trials in {name}", told, tree=tree_of(load_bench(bench, held), words))


def tree_of(bench: Bench, words: Mapping[str, str]) -> tuple[Branch, ...]:
    """Return the trials of a bench, each under the one that it changes, where that was weighed before it."""
    order = {one.name: place for place, one in enumerate(bench.trials)}

    def branches(parent: str) -> tuple[Branch, ...]:
        ours = (name for name in order if parents[name] == parent)
        return tuple(Branch(name, words[name], branches(name)) for name in ours)

    parents = {
        one.name: one.parent if order.get(one.parent, len(order)) < order[one.name] else ""
        for one in bench.trials
    }

    return branches("")


def trial(bench: str, library: str, which: str, *, progress: Progress | None = None) -> Told | None:
    """Tell what was weighed for one trial and what was read of it; None where there is no such trial."""
    from optiform.trials.reading import load_bench
    from optiform.views.results.trials.listing import trial_blocks

    held = remembered_library(library or None)
    found = load_bench(bench, held).trial.get(which)
    return None if found is None else Told(f"Trial {which}", html_of(trial_blocks(found, held)))


def weighed(formula: str, brief: str, library: str, batch: str, *,
            progress: Progress | None = None) -> tuple[tuple[str, str, str], ...]:  # fmt: skip
    """Return what a trial of a formula weighs: id, name and grams of each material."""
    import optiform
    from optiform.library.typed.masses import read_mass
    from optiform.trials.weighing import grams_of
    from optiform.views.words.numbers import fixed

    held = optiform.load_brief(brief).library if brief else remembered_library(library or None)
    typed = optiform.read_formula(formula, held)
    lines = grams_of(typed, read_mass(batch, "batch") if typed.grams is None else None)
    return tuple((which, held.material[which].name, fixed(grams, 2)) for which, grams in lines)


def plan_trials(brief: str, trials: str, measure: str, *, progress: Progress | None = None) -> Told:
    """Plan the fewest trials that teach most, each as a formula in grams with the evening on which it is made."""
    import optiform
    from optiform.views.results.trials.planning import plan_blocks

    found = optiform.plan_trials(brief, trials=int(trials) if trials else None, measure=measure)
    listed = tuple(
        Listed(number, f"evening {one.block}", _in_grams(one.lines))
        for number, one in enumerate(found.trials, 1)
    )
    return Told(found.title, html_of(plan_blocks(found)), formulas=listed)


def next_trial(brief: str, *, progress: Progress | None = None) -> Told:
    """Find the trial that is worth most, each that was looked at as a formula in grams."""
    import optiform
    from optiform.views.results.trials.next_trial import next_blocks

    found = optiform.next_trial(brief)
    listed = tuple(Listed(number, "", _in_grams(one.lines)) for number, one in enumerate(found.trials, 1))
    return Told(found.title, html_of(next_blocks(found, ask=False)), formulas=listed)


def _in_grams(lines: Sequence[PlannedLine]) -> str:
    return "material,grams\n" + "".join(f"{line.material},{line.grams:.10g}\n" for line in lines)
