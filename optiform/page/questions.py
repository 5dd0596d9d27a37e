"""Answers the questions of pages: from names of files to plain values, in processes of their own."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optiform.page.listing import remembered_library

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.model.answer import Answer, Change, Relaxation
    from optiform.answers.tradeoff import TradeOff
    from optiform.library import Library
    from optiform.page.edits import Edit
    from optiform.solver import Progress
    from optiform.views.words.blocks import Block


@dataclass(frozen=True)
class Listed:
    """One ranked formula, and its table as `optiform design --format csv` writes it."""

    rank: int
    cost: str
    csv: str


@dataclass(frozen=True)
class WayOut:
    """A change that makes a brief possible, in words and as edits; without edits where no line of it changes."""

    words: str
    cost: str = ""
    looks: str = ""
    edits: tuple[Edit, ...] = ()


@dataclass(frozen=True)
class Told:
    """The answer to a question as a page shows it.

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

    return told(optiform.design(brief, progress=progress), whole=True)


def check(brief: str, *, progress: Progress | None = None) -> Told:
    """Tell whether a brief can be met, in short."""
    import optiform

    return told(optiform.check(brief))


def why(brief: str, material: str, *, progress: Progress | None = None) -> Told:
    """Tell why a material is in the best formula or left out."""
    import optiform

    return told(optiform.why(brief, material), whole=True)


def evaluate(formula: str, brief: str, library: str, *, progress: Progress | None = None) -> Told:
    """Measure a formula, and hold it against a brief where one is named."""
    import optiform

    answer = optiform.evaluate(formula, brief=brief or None, library=None if brief else library or None)
    return told(answer, whole=True)


def tradeoff(brief: str, of: str, against: str, *, progress: Progress | None = None) -> Told:
    """Return the curve of one measure against another, each chosen point with the edit that makes it the brief's."""
    import optiform

    found = optiform.tradeoff(brief, of, against, progress=progress)
    return result_page(found, found.status, tuple(_points(found)))


def sheet(formula: str, brief: str, library: str, batch: str, part: str, unit: str, *,
          progress: Progress | None = None) -> Told:  # fmt: skip
    """Return one part of a sheet: card, batch, label, cost or shopping."""
    import optiform

    made: Any = optiform.sheet(
        formula, batch, unit=unit or None, parts=[part], brief=brief or None,  # type: ignore[list-item]
        library=None if brief else library or None,
    )  # fmt: skip
    return result_page(made)


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

    return result_page(optiform.shop(plan))


def family(plan: str, *, progress: Progress | None = None) -> Told:
    """Design the products of a plan together on one shelf."""
    import optiform

    found = optiform.family(plan, progress=progress)
    return result_page(found, found.status)


def records(plan: str, *, progress: Progress | None = None) -> Told:
    """Write the batch records of a plan's products, that of a shared base first; a conflict where there are none."""
    import optiform

    found = optiform.family(plan, progress=progress)
    return result_page(optiform.batch_records(found) if found.products else found, found.status)


def recost(folder: str, prices: str, library: str, *, progress: Progress | None = None) -> Told:
    """Tell what a price list changes for every product of a folder."""
    from optiform.answers.recost import recosting
    from optiform.views.results.recost import recost_blocks

    def step(done: int, total: int, name: str) -> None:
        if progress is not None:
            progress(f"{done} of {total}: {name}")

    found = recosting(Path(folder), Path(prices), library=Path(library) if library else None, progress=step)
    return Told("Products at the new prices", html_of(recost_blocks(found)))


def prices_moved(prices: str, library: str, formulas: str, *, progress: Progress | None = None) -> str:
    """Tell in a line which prices of a list differ from a library's, and which formulas use these materials.

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
    return Told(found.material.name, html_of(material_blocks(held, found)))


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


def html_of(blocks: Sequence[Block]) -> str:
    """Return blocks as a part of a page."""
    from optiform.views.render import page

    return page.fragment(blocks)


def result_page(value: Any, status: str = "solved", ways: tuple[WayOut, ...] = ()) -> Told:
    """Return the page of what a question returned, its pictures among the rest."""
    from optiform.views.forms import result_of

    result = result_of(value)
    return Told(result.title, html_of((result.drawn or result.blocks)()), status, ways=ways)


def told(answer: Answer, words: str = "", *, whole: bool = False) -> Told:
    """Return what a page shows of an answer about a brief: a panel beside the brief, or the whole answer.

    Parameters
    ----------
    words : str
        Stand for the verdict, where it is none yet.
    """
    from optiform.views.first.answer import verdict
    from optiform.views.first.masthead import aim_of
    from optiform.views.screens import FIRST, answer_blocks, panel_blocks

    best = answer.formulas[0] if answer.formulas else None
    listed = tuple(
        Listed(one.rank, aim_of(answer, one), replace(answer, formulas=(one,)).to_csv())
        for one in answer.formulas
    )
    return Told(
        answer.title or answer.question,
        html_of(answer_blocks(answer, drawn=True) if whole else panel_blocks(answer)),
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
