"""Tells a plan of trials: what to weigh, what each teaches, what all of them will tell."""

from __future__ import annotations

import math

from optiform.answers.trials.planned import Planned, PlannedTrial
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Cell,
    Column,
    Field,
    Heading,
    Paragraph,
    Rows,
    Table,
    ask_next,
    joined,
    light,
    tabulated,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import figure, fixed, percent

HUGE = 100.0
"""A factor above which an interval says nothing."""

CANDIDATE = "Each trial holds everything that the brief asks; whether it stays one phase, only the trial itself shows."


def plan_first(found: Planned) -> list[Block]:
    """Return the first screen: the trials in order, what each teaches, what all of them will tell."""
    return [
        *_head(found),
        _order(found, short=True),
        *_promise(found),
        *map(Paragraph, found.notes),
        Paragraph(CANDIDATE, "caution"),
        *ask_next("optiform trial plan BRIEF --format csv", "optiform trial add DIR --formula CSV"),
    ]


def plan_blocks(found: Planned) -> list[Block]:
    """Return the plan in full, with the grams of each trial and what varies."""
    names = _names(found)
    ranges = (
        Field("varies", lambda one: names.short(one.material), head=True),
        Field("from, % w/w", lambda one: percent(one.low), "decimal"),
        Field("to", lambda one: percent(one.high), "decimal"),
    )
    blocks = [*_head(found), _order(found, short=False), *_promise(found), *map(Paragraph, found.notes)]
    blocks += [
        Heading("What to weigh"),
        *[
            table
            for block in sorted({trial.block for trial in found.trials})
            for table in _weigh(found, block, names)
        ],
    ]
    blocks += [Heading("What varies"), tabulated("What varies", ranges, found.varied)]
    if found.kept:
        kept = joined([f"{names.within(one.material)} {percent(one.low)} %" for one in found.kept])
        blocks.append(Paragraph(f"The brief leaves no room for: {kept}."))
    return [
        *blocks,
        Paragraph(CANDIDATE, "caution"),
        *([Bullets(found.cautions, tone="caution")] if found.cautions else []),
    ]


def _names(found: Planned) -> Names:
    lines = [(line.material, line.name) for trial in found.trials for line in trial.lines]
    return Names(lines, (which for which, _ in lines))


def _head(found: Planned) -> list[Block]:
    count = len(found.trials)
    base = joined([name.split(",")[0] for name in found.base])
    earlier = f" {found.earlier} earlier trials count." if found.earlier else ""
    trials = f"{count} trial{'s' if count != 1 else ''}"
    return [
        Heading(found.title, 1, aside=f"{trials} for {found.measure}"),
        Paragraph(f"{base}; {found.batch_g:g} g each, in this order.{earlier}", "quiet"),
    ]


def _order(found: Planned, *, short: bool) -> Table:
    names = _names(found)
    again = "the middle" if found.middle else "one near the middle"
    fields = (
        Field("trial", lambda trial: trial.name, head=True),
        Field("evening", lambda trial: str(trial.block), "right", once=True),
        Field("what it teaches", lambda trial: teaches(trial, names, again), cut=short),
    )
    shown = tabulated("Trials in the order in which to make them", fields, found.trials)
    return light(shown, folds=1, keeps=8) if short else shown


def teaches(trial: PlannedTrial, names: Names, again: str) -> str:
    """Return why a trial is made: "most xanthan gum, least glycerin"; `again` says what is repeated."""
    if trial.repeat:
        return f"{again}, once every evening: how steady is the bench?"
    if not trial.ends:
        return "between the others: is it a straight line?"
    return ", ".join(f"{end} {names.within(material)}" for material, _, end in trial.ends)


def _promise(found: Planned) -> list[Block]:
    """Return what the trials will tell of the middle."""
    told = found.predicted
    if told is None:
        return [
            Paragraph(f"Nobody expects anything of {found.measure} yet: the first trials say where it lies.")
        ]
    if found.measure != "viscosity":
        now, then = (told.high - told.low) / 2.0, (told.after_high - told.after_low) / 2.0
        return [
            Paragraph(
                f"A wash in the middle: predicted within {figure(now, 2)} now, within {figure(then, 2)} then."
            )
        ]
    now, then = (
        math.sqrt(high / low) for low, high in ((told.low, told.high), (told.after_low, told.after_high))
    )
    before = "nobody can tell it yet" if now > HUGE else f"predicted within a factor {figure(now, 1)} now"
    after = f"once these are read, within a factor {figure(then, 1)}, nine times in ten"
    return [Paragraph(f"The viscosity of a wash in the middle: {before}; {after}.")]


def _weigh(found: Planned, block: int, names: Names) -> list[Block]:
    """Return the grams of one evening, a column for each trial."""
    trials = [trial for trial in found.trials if trial.block == block]
    materials = list(dict.fromkeys(line.material for trial in trials for line in trial.lines))
    grams = [{line.material: line.grams for line in trial.lines} for trial in trials]
    rows = tuple(
        (
            names.short(material),
            *(fixed(one.get(material, 0.0), 2) if material in one else "" for one in grams),
        )
        for material in materials
    )
    columns = (
        Column(f"evening {block}, grams", head=True),
        *(Column(f"trial {trial.name}", "decimal") for trial in trials),
    )
    return [Table(f"What to weigh on evening {block}", columns, rows)]


def plan_rows(found: Planned) -> Rows:
    """Return the lines of weighed.csv with the grams to weigh: write over them what the balance shows."""
    columns = ("trial", "date", "block", "brief", "parent", "material", "grams")
    rows: list[tuple[Cell, ...]] = [
        (trial.name, "", f"evening {trial.block}", found.brief, "", line.material, line.grams)
        for trial in found.trials
        for line in trial.lines
    ]
    return columns, rows
