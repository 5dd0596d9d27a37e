"""Makes the first screen of a reformulation: verdict, before and after, steps, what else changes."""

from __future__ import annotations

from collections.abc import Callable

from optiform.answers.model.answer import Answer, Line
from optiform.answers.model.changes import Changes, Step
from optiform.views.first.formula import figures as figures_of
from optiform.views.first.formula import first_figures, value_of, wanted_of
from optiform.views.first.masthead import aim_text
from optiform.views.words.blocks import Block, Column, Field, Paragraph, Table, joined, light, tabulated
from optiform.views.words.names import Names, names_of
from optiform.views.words.numbers import INDEX, NOTHING, figure, fixed, gained, percent
from optiform.views.words.property_words import changes_of
from optiform.views.words.sentences import amount, leave

MARKS = {"new": "new", "dropped": "out", "more": "more", "less": "less"}
STEPS, WATCHED = 6, 4
STEPS_FOLD, FIGURES_FOLD = 1, 2
LIST = "ingredient list"


def verdict(answer: Answer) -> str:
    """Return the verdict: "0.31 EUR/kg cheaper, 18 %", or "leave it"."""
    changes, unit = answer.changes, answer.aim_unit
    if answer.leave is not None:
        return "leave it"
    if not answer.formulas:
        return "stopped, nothing found yet"
    if changes is None or changes.saving is None:
        return "nothing to compare with"
    lowest = answer.brief is None or answer.brief.aim.sense == "minimise"
    if answer.aim == "cost":
        word = "cheaper" if changes.saving >= 0 else "dearer"
    else:
        word = f"{'less' if lowest == (changes.saving >= 0) else 'more'} {answer.aim}"
    before = None if answer.baseline is None else answer.baseline.ranked_by
    part = ""
    if before and unit != INDEX:
        share = abs(100.0 * changes.saving / before)
        part = f", {fixed(share, 0 if share >= 9.95 else 1)} %"
    return f"{gained(changes.saving, unit)} {word}{part}"


def summary(answer: Answer, changes: Changes, names: Names) -> list[Block]:
    """Return how many materials change, and what today's formula breaks."""
    kinds = [line.kind for line in changes.lines]
    counted = (
        (kinds.count("new"), "new"),
        (kinds.count("dropped"), "out"),
        (kinds.count("more") + kinds.count("less"), "in other amounts"),
    )
    differing = joined([f"{count} {word}" for count, word in counted if count])
    told = [f"What differs: {differing}." if kinds else "No amount differs from today's."]
    broken = answer.baseline.breaks if answer.baseline is not None else ()
    if broken:
        first = "; ".join(names.asked(item.requirement) for item in broken[:2])
        more = f" and {len(broken) - 2} more" if len(broken) > 2 else ""
        told.append(f"Today's formula breaks: {first}{more}.")
    return [Paragraph(" ".join(told))]


def side_by_side(answer: Answer, changes: Changes, names: Names) -> list[Block]:
    """Return both formulas in one table, differences marked, in working order; what is dropped ends its phase."""
    new = answer.formulas[0].lines
    old = () if answer.baseline is None else answer.baseline.lines
    kinds = {line.material: MARKS[line.kind] for line in changes.lines}
    before = {line.material: percent(line.percent) for line in old}
    after = {line.material: amount(line) for line in new}
    order: list[Line] = []
    for phase in dict.fromkeys([*(line.phase for line in new), *(line.phase for line in old)]):
        order += [line for line in new if line.phase == phase]
        order += [line for line in old if line.phase == phase and line.material not in after]
    phases = (Field("", lambda line: line.phase or NOTHING, once=True),)
    fields = (
        *(phases if any(line.phase for line in order) else ()),
        Field("", lambda line: line.name, head=True, cut=True),
        Field("today", lambda line: before.get(line.material, NOTHING), "decimal"),
        Field("new", lambda line: after.get(line.material, NOTHING), "decimal"),
        Field("", lambda line: kinds.get(line.material, "")),
    )
    return [light(tabulated("What to weigh, % w/w", fields, order))]


def figures(answer: Answer, changes: Changes, names: Names) -> list[Block]:
    """Return cost and the four first figures before and after, with the bounds asked for."""
    new, old = answer.formulas[0], answer.baseline
    known = {} if old is None else {item.measure: item for item in old.figures}
    today = NOTHING if old is None else fixed(old.cost, 2)
    rows = [(f"cost, {new.currency}/kg", today, fixed(new.cost, 2), "")]
    for item in first_figures(new):
        before = value_of(known[item.measure]) if item.measure in known else NOTHING
        rows.append((names.measure(item.measure), before, value_of(item), wanted_of(item, None)))
    columns = (Column("", head=True, cut=True), Column("today", "right"), Column("new", "right"), Column(""))
    return [light(Table("Figures", columns, tuple(rows)), FIGURES_FOLD, 3)]


def steps(answer: Answer, changes: Changes, names: Names) -> list[Block]:
    """Return at most six steps of the change, each a formula that meets everything."""
    if len(changes.steps) < 2:
        return []
    unit = answer.aim_unit
    rows = [*enumerate(changes.steps[:STEPS], 1)]
    fields = (
        Field("", lambda row: str(row[0]), "right"),
        Field("", lambda row: step_of(row[1], names), head=True, cut=True),
        Field("brings", lambda row: _signed(row[1].saving, unit), "decimal"),
        Field(f"then, {unit}", lambda row: aim_text(row[1].aim, unit), "decimal"),
    )
    return [light(tabulated("Step by step; you may stop at any", fields, rows), STEPS_FOLD, 2)]


def _signed(value: float, unit: str) -> str:
    text = aim_text(abs(value), unit)
    if not text.strip("0."):
        return text
    return f"{'+' if value > 0 else '-'}{text}"


def step_of(step: Step, names: Names) -> str:
    """Return what a step changes: materials that come and go, else the amounts."""
    new = [names.within(line.material) for line in step.lines if line.kind == "new"]
    out = [names.within(line.material) for line in step.lines if line.kind == "dropped"]
    moved = [line for line in step.lines if line.kind in ("more", "less") and line.material != "water"]
    if new:
        return f"{joined(new)} instead of {joined(out)}" if out else f"with {joined(new)}"
    if out:
        return f"without {joined(out)}"
    spans = ((names.within(one.material), figure(one.before, 2), figure(one.after, 2)) for one in moved)
    return "; ".join(f"{name} {before} to {after} %" for name, before, after in spans) or "water alone"


def watch(answer: Answer, changes: Changes, names: Names) -> list[Block]:
    """Return the properties that change although nobody asked."""
    rest = [item for item in changes.properties if item.what != LIST]
    told = ["the ingredient list changes"] if len(rest) < len(changes.properties) else []
    told += map(names.said, changes_of(rest))
    if not told:
        return []
    more = f"; {len(told) - WATCHED} more" if len(told) > WATCHED else ""
    return [Paragraph(f"Watch: {'; '.join(told[:WATCHED])}{more}.")]


def _of(part: Callable[[Answer, Changes, Names], list[Block]]) -> Callable[[Answer], list[Block]]:
    """Make a part of an answer out of one of its changes; it is empty without a new formula."""
    return lambda answer: (
        part(answer, answer.changes, names_of(answer))
        if answer.changes is not None and answer.formulas
        else []
    )


def left(answer: Answer) -> list[Block]:
    """Return the advice to keep today's formula, with its figures."""
    if answer.leave is None:
        return []
    today = () if answer.baseline is None else figures_of(answer.baseline, names_of(answer))
    return [Paragraph(leave(answer.leave, answer.aim_unit)), *today]


PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "better left": left,
    "differs": _of(summary),
    "before and after": _of(side_by_side),
    "figures before and after": _of(figures),
    "steps": _of(steps),
    "watch": _of(watch),
}
