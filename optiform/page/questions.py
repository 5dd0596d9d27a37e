"""The questions that pages ask, each from names of files to what is shown: they run in processes of their own."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optiform.page.libraries import remembered_library

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from optiform.answers.model.answer import Answer, Change, Relaxation
    from optiform.answers.tradeoff import TradeOff
    from optiform.answers.trials.planned import PlannedLine
    from optiform.library import Library
    from optiform.page.edits import Edit
    from optiform.solver import Progress
    from optiform.trials.models import Bench
    from optiform.views.words.blocks import Block


@dataclass(frozen=True)
class Listed:
    """One ranked formula, and its table as `optiform design --format csv` writes it."""

    rank: int
    cost: str
    csv: str


@dataclass(frozen=True)
class WayOut:
    """A change that makes a brief possible, in words, and the edits that write it; none where it is no line of it."""

    words: str
    cost: str = ""
    looks: str = ""
    edits: tuple[Edit, ...] = ()


@dataclass(frozen=True)
class Told:
    """What a page shows of an answer.

    Attributes
    ----------
    body : str
        Blocks as HTML, every text escaped.
    status : str
        solved, conflict or stopped.
    verdict : str
        The answer in a few words.
    aim : str
        The best value of the aim, or empty.
    """

    title: str
    body: str
    status: str = "solved"
    verdict: str = ""
    aim: str = ""
    formulas: tuple[Listed, ...] = ()
    ways: tuple[WayOut, ...] = ()


def design(brief: str, *, progress: Progress | None = None) -> Told:
    """Rank the formulas of a brief."""
    import optiform
    from optiform.views.screens import answer_blocks

    answer = optiform.design(brief, progress=progress)
    return told(answer, blocks=answer_blocks(answer, drawn=True))


def check(brief: str, *, progress: Progress | None = None) -> Told:
    """Tell whether a brief can be met, in short."""
    import optiform

    return told(optiform.check(brief))


def why(brief: str, material: str, *, progress: Progress | None = None) -> Told:
    """Tell why a material is in the best formula or left out."""
    import optiform
    from optiform.library.typed.matching import matcher
    from optiform.views.screens import answer_blocks

    read = optiform.load_brief(brief)
    found, _ = matcher(read.library).candidates(material)
    answer = optiform.why(read, found[0] if len(found) == 1 else material)
    return told(answer, blocks=answer_blocks(answer, drawn=True))


def evaluate(formula: str, brief: str, library: str, *, progress: Progress | None = None) -> Told:
    """Measure a formula, and hold it against a brief where one is named."""
    import optiform
    from optiform.views.screens import answer_blocks

    answer = optiform.evaluate(formula, brief=brief or None, library=None if brief else library or None)
    return told(answer, blocks=answer_blocks(answer, drawn=True))


def tradeoff(brief: str, of: str, against: str, *, progress: Progress | None = None) -> Told:
    """Return the curve of one measure against another, each chosen point with the edit that makes it the brief's."""
    import optiform
    from optiform.views.forms import result_of

    found = optiform.tradeoff(brief, of, against, progress=progress)
    result = result_of(found)
    blocks = (result.drawn or result.blocks)()
    return Told(result.title, _html(blocks), found.status, ways=tuple(_points(found)))


def sheet(formula: str, brief: str, library: str, batch: str, part: str, unit: str, *,
          progress: Progress | None = None) -> Told:  # fmt: skip
    """Return one part of a sheet: card, batch, label, cost or shopping."""
    import optiform
    from optiform.views.forms import result_of

    made: Any = optiform.sheet(
        formula, batch, unit=unit or None, parts=[part], brief=brief or None,  # type: ignore[list-item]
        library=None if brief else library or None,
    )  # fmt: skip
    result = result_of(made)
    return Told(result.title, _html((result.drawn or result.blocks)()))


def record(formula: str, brief: str, library: str, batch: str, *, progress: Progress | None = None) -> str:
    """Return the batch record of a formula as JSON, before anything is filled in."""
    import optiform

    made = optiform.sheet(
        formula, batch, parts=["batch"], brief=brief or None, library=None if brief else library or None
    )
    assert made.batch is not None
    return made.batch.model_dump_json()


def shop(plan: str, *, progress: Progress | None = None) -> Told:
    """Find the packs to buy for a plan."""
    import optiform
    from optiform.views.forms import result_of

    result = result_of(optiform.shop(plan))
    return Told(result.title, _html(result.blocks()))


def family(plan: str, *, progress: Progress | None = None) -> Told:
    """Design the products of a plan together on one shelf."""
    import optiform
    from optiform.views.forms import result_of

    found = optiform.family(plan, progress=progress)
    result = result_of(found)
    return Told(result.title, _html((result.drawn or result.blocks)()), found.status)


@dataclass(frozen=True)
class Branch:
    """One trial of the tree: its name, what there is of it in a few words, and the trials that change it."""

    name: str
    words: str
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class ToldTrials(Told):
    """What a page shows of a bench."""

    tree: tuple[Branch, ...] = ()


def trials(bench: str, library: str, *, progress: Progress | None = None) -> ToldTrials:
    """List the trials of a bench, and tell what they taught where something was read."""
    import optiform
    from optiform.trials.reading import load_bench
    from optiform.views.forms import result_of
    from optiform.views.results.trials.listing import at_a_glance, beside_the_list

    name, held = Path(bench).name, remembered_library(library or None)
    listed = replace(optiform.list_trials(bench, library=held), title=name)
    told = _html(beside_the_list(listed))
    if any(trial.readings for trial in listed.trials):
        taught = result_of(replace(optiform.learn(bench, library=held), title=name))
        told += _html((taught.drawn or taught.blocks)())
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
    return None if found is None else Told(f"Trial {which}", _html(trial_blocks(found, held)))


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
    return Told(found.title, _html(plan_blocks(found)), formulas=listed)


def next_trial(brief: str, *, progress: Progress | None = None) -> Told:
    """Find the trial that is worth most, each that was looked at as a formula in grams."""
    import optiform
    from optiform.views.results.trials.next_trial import next_blocks

    found = optiform.next_trial(brief)
    listed = tuple(Listed(number, "", _in_grams(one.lines)) for number, one in enumerate(found.trials, 1))
    return Told(found.title, _html(next_blocks(found, ask=False)), formulas=listed)


def _in_grams(lines: Sequence[PlannedLine]) -> str:
    return "material,grams\n" + "".join(f"{line.material},{line.grams:.10g}\n" for line in lines)


def recost(folder: str, prices: str, library: str, *, progress: Progress | None = None) -> Told:
    """Tell what a price list changes for every product of a folder."""
    from optiform.answers.recost import recosting
    from optiform.views.results.recost import recost_blocks

    def step(done: int, total: int, name: str) -> None:
        if progress is not None:
            progress(f"{done} of {total}: {name}")

    found = recosting(Path(folder), Path(prices), library=Path(library) if library else None, progress=step)
    return Told("Products at the new prices", _html(recost_blocks(found)))


def prices_moved(prices: str, library: str, formulas: str, *, progress: Progress | None = None) -> str:
    """Tell in a line which prices of a list differ from a library's, and in which formulas these materials are.

    Parameters
    ----------
    formulas : str
        Their paths, each on a line.
    """
    import optiform
    from optiform.faults import BadInput
    from optiform.library.typed.matched_list import match_list
    from optiform.views.results.recost import prices_moved_words

    held = remembered_library(library or None)
    rows = match_list(Path(prices), held).rows
    moved = {
        row.material
        for row in rows
        if row.material and row.value not in (None, held.material[row.material].price)
    }
    touched = []
    for path in filter(None, formulas.split("\n")):
        try:
            amounts = optiform.read_formula(path, held).amounts
        except BadInput:  # of another library: what it costs, the list itself tells when it is opened
            continue
        if moved & amounts.keys():
            touched.append(Path(path).stem)
    unsure = sum(not row.material for row in rows)
    return prices_moved_words(len(moved), unsure, held.name, touched)


def material(library: str, which: str, *, progress: Progress | None = None) -> Told:
    """Tell everything that a library says of one material."""
    from optiform.library.about import about
    from optiform.views.results.library import material_blocks

    held = remembered_library(library or None)
    found = about(held, which)
    return Told(found.material.name, _html(material_blocks(held, found)))


@dataclass(frozen=True)
class Row:
    """One row of a list: as it is written there, its figure, and the materials it may mean, a certain one first."""

    typed: str
    value: float | None
    material: str
    why: str
    offered: tuple[tuple[str, str], ...]


def match(text: str, library: str, *, progress: Progress | None = None) -> tuple[Row, ...]:
    """Match a pasted price list to a library."""
    from optiform.library.files.writing import write_whole
    from optiform.library.typed.matched_list import match_list

    held = remembered_library(library or None)
    with tempfile.TemporaryDirectory(prefix="optiform-") as folder:
        path = Path(folder) / "pasted.csv"
        write_whole(path, text.encode("utf-8", "replace"))
        found = match_list(path, held)
    return tuple(_row(row, held) for row in found.rows)


def _row(row: Any, library: Library) -> Row:
    names = tuple(dict.fromkeys([*([row.material] if row.material else []), *row.alternatives]))
    offered = tuple((name, library.material[name].name) for name in names)
    return Row(row.typed, row.value, row.material, row.why, offered)


def _html(blocks: Sequence[Block]) -> str:
    from optiform.views.render import page

    return page.fragment(blocks)


def told(answer: Answer, words: str = "", blocks: Sequence[Block] | None = None) -> Told:
    """Return what a page shows of an answer about a brief: a panel beside it, or the blocks that are given.

    Parameters
    ----------
    words : str
        Stand for the verdict, where it is none yet.
    """
    from optiform.views.first.answer import verdict
    from optiform.views.first.masthead import aim_of
    from optiform.views.screens import FIRST, panel_blocks

    best = answer.formulas[0] if answer.formulas else None
    listed = tuple(
        Listed(one.rank, aim_of(answer, one), replace(answer, formulas=(one,)).to_csv())
        for one in answer.formulas
    )
    return Told(
        answer.title or answer.question,
        _html(panel_blocks(answer) if blocks is None else blocks),
        answer.status,
        words or (verdict(answer) if answer.question in FIRST else ""),
        aim_of(answer, best) if best is not None and answer.conflict is None else "",
        listed if answer.conflict is None else (),
        tuple(_ways(answer)),
    )


def _ways(answer: Answer) -> list[WayOut]:
    """Return the ways out of a conflict: each single change, then what gives a little everywhere."""
    from optiform.views.words.conflict_words import way
    from optiform.views.words.names import names_of
    from optiform.views.words.sentences import cost_unit, relaxed

    found = answer.conflict
    if found is None or answer.brief is None:
        return []
    unit, say = cost_unit(answer), names_of(answer).said
    ways = []
    for change in sorted(found.single_changes, key=lambda item: (item.cost is None, item.cost)):
        told = way(change, unit)
        ways.append(WayOut(say(told.change), told.cost, say(told.looks), _written(answer, (change,))))
    if found.compromise:
        words = "; ".join(say(relaxed(item.requirement, item.to)) for item in found.compromise)
        ways.append(WayOut(f"each a little: {words}", edits=_written(answer, found.compromise)))
    elif found.together is not None:
        words = "; ".join(say(way(change, unit).change) for change in found.together.changes)
        ways.append(WayOut(f"together: {words}", edits=_written(answer, found.together.changes)))
    return ways


def _written(answer: Answer, changes: Sequence[Change | Relaxation]) -> tuple[Edit, ...]:
    """Return the edits that type changes into the brief's file."""
    from optiform.answers.conflict.typed_back import typed_back
    from optiform.page.brief_edits import differences

    assert answer.brief is not None
    try:
        return differences(answer.brief, typed_back(answer.brief, *changes))
    except ValueError:  # about something that stands in another file
        return ()


def _points(found: TradeOff) -> list[WayOut]:
    """Return the chosen points of a curve: each bound with the best value there."""
    from optiform.page.edits import Edit
    from optiform.views.words import tradeoff_words as said
    from optiform.views.words.tradeoff_scale import round_bounds

    points = []
    curve = found.curves[0] if found.curves else None
    if curve is None or not curve.stretches:
        return []
    low, high = sorted((curve.loosest, curve.tightest))
    for bound in round_bounds(found, curve):
        typed = float(said.bound(found, bound, unit=False))
        value = curve.at(typed)
        if value is None or not low <= typed <= high:
            continue
        place = ("targets", found.against, found.side)
        kept = int(typed) if typed == int(typed) else typed
        words = f"{found.against} {said.SIDES[found.side]} {said.bound(found, bound)}"
        edits = [Edit(place, kept)]
        if found.of in found.brief.targets:  # the curve lets its own limits go, and a point would not meet it
            edits.append(Edit(("targets", found.of), None))
        points.append(WayOut(words, said.value(found, value), edits=tuple(edits)))
    return points
