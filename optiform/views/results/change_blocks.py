"""A reformulation told in blocks: what is better, by which steps, and every difference."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.blocks import Block, Bullets, Column, Heading, Paragraph, Table, joined
from optiform.views.render.numbers import INDEX, NOTHING, digits_of, fixed, gained, percent, short
from optiform.views.results.conflict_blocks import conflict_blocks
from optiform.views.results.formula_blocks import comparison_blocks, formula_blocks, setting
from optiform.views.words import sentences

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.model.answer import Answer
    from optiform.answers.model.changes import (
        Changes,
        Lever,
        LineChange,
        MeasureChange,
        PropertyChange,
        Rung,
        Step,
    )
    from optiform.views.pictures.gallery import Gallery

PLAIN_MEASURES = ("tag:", "share:", "undissociated:", "function:")
"""Prefixes of measures that stand in a table of their own, after those with a plain name."""


SEEN = 0.0005
"""A saving from here on shows in three decimals."""


def reformulation_blocks(answer: Answer, gallery: Gallery | None = None) -> list[Block]:
    """Return a reformulation as blocks: verdict, changes, the new formula in full, notes, cautions."""
    blocks: list[Block] = [Heading(answer.title or answer.question, 1), *setting(answer)]
    blocks += [Paragraph(line) for line in sentences.standing(answer)]
    if answer.baseline is not None:
        blocks += [Heading("Today"), Paragraph(f"{sentences.contents(answer.baseline)}. {today(answer)}")]
        if answer.baseline.breaks:
            blocks.append(
                Bullets(tuple(sentences.broken(item) for item in answer.baseline.breaks), tone="bad")
            )
    if answer.conflict is not None:
        blocks += conflict_blocks(answer.conflict, sentences.cost_unit(answer))
        if gallery is not None:
            blocks += gallery.conflict(answer.conflict)
    if answer.changes is not None:
        blocks += change_blocks(answer, answer.changes)
    for formula in answer.formulas[:1]:
        heading = f"The new formula: {sentences.contents(formula)}"
        blocks += formula_blocks(answer, formula, heading=heading, gallery=gallery)
    blocks += comparison_blocks(answer.formulas, gallery)
    if answer.notes:
        blocks += [Heading("Notes"), Bullets(answer.notes)]
    blocks += [Heading("Cautions"), Bullets(sentences.cautions(answer), tone="caution")]
    return blocks


def today(answer: Answer) -> str:
    """Return whether the baseline holds what is asked today."""
    count = 0 if answer.baseline is None else len(answer.baseline.breaks)
    if not count:
        return "Today's formula holds everything that is asked."
    return f"Today's formula breaks {count} of the things that are asked:"


def change_blocks(answer: Answer, changes: Changes) -> list[Block]:
    """Return what changed: the saving, the staircase, levers, ladder, and every difference."""
    unit = answer.aim_unit
    blocks: list[Block] = [Heading("What it brings"), Paragraph(saving(changes, answer))]
    blocks += step_blocks(changes.steps, unit)
    blocks += line_blocks(changes.lines)
    blocks += property_blocks(changes)
    blocks += lever_blocks(changes.levers, unit)
    blocks += ladder_blocks(changes.ladder, answer)
    blocks += measure_blocks(changes.measures)
    return [*blocks, *substance_blocks(changes)]


def saving(changes: Changes, answer: Answer) -> str:
    """Return the whole gain, and which part of it is only a slide to the edge of a window."""
    if changes.saving is None:
        return f"The baseline has no {answer.aim}, so there is nothing to compare it with."
    unit = answer.aim_unit
    sense = answer.brief.aim.sense if answer.brief is not None else "minimise"
    better = "less" if sense == "minimise" else "more"
    worse = "more" if sense == "minimise" else "less"
    words = (
        f"{gained(changes.saving, unit)} {better if changes.saving >= 0 else worse} {answer.aim} than today."
    )
    before = None if answer.baseline is None else answer.baseline.ranked_by
    if before and changes.saving > 0 and unit != INDEX:
        words = f"{words[:-1]}, which is {fixed(100.0 * changes.saving / abs(before), 1)} %."
    ways = []
    if changes.amounts is not None:
        ways.append(f"today's materials alone, in other amounts, {_brings(changes.amounts, unit)}")
    if changes.choices is not None:
        kept = _brings(changes.choices, unit)
        ways.append(f"with nothing nearer to its limit than it is today a new formula {kept}")
    return f"{words} By itself each way counts so: {'; '.join(ways)}." if ways else words


def _brings(gain: float, unit: str) -> str:
    """Return "brings 0.10 EUR/kg", "costs 0.02 EUR/kg"; what shows as nothing brings nothing."""
    if abs(gain) < (0.5 if unit == INDEX else SEEN):
        return "brings nothing"
    return f"{'brings' if gain > 0 else 'costs'} {gained(gain, unit)}".rstrip()


def step_blocks(steps: Sequence[Step], unit: str) -> list[Block]:
    """Return the staircase: each step is a formula of its own that holds everything."""
    if not steps:
        return []
    digits = digits_of(unit)
    columns = (
        Column("step", "right"),
        Column("change", head=True),
        Column(f"brings, {unit}", "decimal"),
        Column(f"then, {unit}", "decimal", sheds=1),
    )
    rows = tuple(
        (str(place), _step(step), _signed(step.saving, digits), fixed(step.aim, digits))
        for place, step in enumerate(steps, 1)
    )
    total = ("", "together", _signed(sum(step.saving for step in steps), digits), "")
    words = "The most rewarding change first; after each step the formula holds everything, so you may stop at any."
    if any(step.saving < -SEEN and not step.repairs for step in steps):
        words += " A step below zero gives some of the aim away, within the tie allowed, for what the brief wants next."
    return [Heading("Step by step"), Paragraph(words), Table("Single changes", columns, rows, total)]


def _step(step: Step) -> str:
    parts = [_moved(line) for line in step.lines if line.material != "water"]
    text = "; ".join(parts) if parts else "water alone"
    return f"needed before anything holds: {text}" if step.repairs else text


def _moved(line: LineChange) -> str:
    if line.kind == "new":
        return f"{line.name} new, {percent(line.after)} %"
    if line.kind == "dropped":
        return f"{line.name} out"
    before, after = percent(line.before), percent(line.after)
    digits = 3
    while before == after and digits < 6:
        before, after = fixed(line.before, digits), fixed(line.after, digits)
        digits += 1
    return f"{line.name} {before} to {after} %"


def _signed(value: float, digits: int = 3) -> str:
    text = fixed(value, digits)
    return text if text in (NOTHING, fixed(0.0, digits)) or value < 0 else f"+{text}"


def line_blocks(lines: Sequence[LineChange]) -> list[Block]:
    """Return the difference line by line."""
    if not lines:
        return [Paragraph("No amount differs from today's.")]
    columns = (
        Column("material", head=True),
        Column("", sheds=2),
        Column("today, % w/w", "decimal"),
        Column("new, % w/w", "decimal"),
        Column("cost, per kg", "decimal", sheds=1),
    )
    rows = tuple(
        (line.name, line.kind, percent(line.before), percent(line.after), _signed(line.cost))
        for line in lines
    )
    return [Heading("Line by line"), Table("Lines that differ", columns, rows)]


def property_blocks(changes: Changes) -> list[Block]:
    """Return what changed although nobody asked."""
    if not changes.properties:
        return [Heading("Changed without being asked"), Paragraph("Nothing that the library knows of.")]
    items = tuple(_property(item) for item in changes.properties)
    return [Heading("Changed without being asked"), Bullets(items)]


def _property(item: PropertyChange) -> str:
    if not (item.gone or item.new):
        return f"{item.what}: {item.before} -> {item.after}"
    told = [
        f"{word} {joined(names)}" for word, names in (("no longer", item.gone), ("now", item.new)) if names
    ]
    return f"{item.what}: {'; '.join(told)}"


def lever_blocks(levers: Sequence[Lever], unit: str) -> list[Block]:
    """Return the wishes that would bring more if they moved."""
    if not levers:
        return []
    words = "Outside what this brief lets move; each was solved again, other choices kept:"
    return [Heading("Bigger levers"), Paragraph(words), Bullets(tuple(lever(item, unit) for item in levers))]


def lever(found: Lever, unit: str) -> str:
    """Return "nettle-extract at 4 instead of 5 % w/w would free 0.12 EUR/kg, which buys mildness 67 ..."."""
    requirement = found.requirement
    measure = requirement.measure or ""
    label = measure.partition(":")[2] or measure or requirement.title
    here = short(float(f"{found.bound:.4g}"))
    amounts = f"{short(found.to)} instead of {here} {requirement.unit}".rstrip()
    part = "" if found.saving_percent is None else f", {fixed(found.saving_percent, 1)} %"
    verb = "free" if "/kg" in unit else "bring"
    told = f"{label} at {amounts} would {verb} {gained(found.saving, unit)}{part}"
    if found.buys is None:
        return told
    bought, digits = found.buys, found.buys.digits
    to, before = fixed(bought.to, digits), short(float(f"{bought.before:.4g}"))
    return f"{told}, which buys {bought.measure} {to} instead of {before} {bought.unit}".rstrip()


def ladder_blocks(ladder: Sequence[Rung], answer: Answer) -> list[Block]:
    """Return the best result for each number of new materials."""
    if not ladder:
        return []
    names = {} if answer.brief is None else {m.id: m.name for m in answer.brief.library.materials}
    columns = (
        Column("new at most", "right"),
        Column(f"{answer.aim}, {answer.aim_unit}", "decimal"),
        Column("brings", "decimal"),
        Column("new materials", head=True),
        Column("dropped", sheds=1),
    )
    rows = tuple(
        (
            str(rung.at_most_new),
            "cannot be met" if rung.aim is None else fixed(rung.aim, digits_of(answer.aim_unit)),
            NOTHING if rung.saving is None else _signed(rung.saving, digits_of(answer.aim_unit)),
            joined([names.get(name, name) for name in rung.new]) or NOTHING,
            joined([names.get(name, name) for name in rung.dropped]) or NOTHING,
        )
        for rung in ladder
    )
    return [
        Heading("What each further new material buys"),
        Table("Best by number of new materials", columns, rows),
    ]


def measure_blocks(measures: Sequence[MeasureChange]) -> list[Block]:
    """Return the difference measure by measure."""
    if not measures:
        return []
    columns = (
        Column("measure", head=True),
        Column("today", "decimal"),
        Column("new", "decimal"),
        Column("unit", sheds=1),
    )
    ordered = sorted(measures, key=lambda item: item.measure.startswith(PLAIN_MEASURES))
    rows = tuple(
        (item.measure, _figure(item.before, item), _figure(item.after, item), item.unit) for item in ordered
    )
    return [Heading("Measure by measure"), Table("Measures that differ", columns, rows)]


def _figure(value: float | None, item: MeasureChange) -> str:
    """Return a value with its usual digits, or with more where the two would read alike."""
    digits = item.digits
    if item.before is not None and item.after is not None and item.unit != INDEX:
        while digits < 9 and fixed(item.before, digits) == fixed(item.after, digits):
            digits += 1
    return fixed(value, digits)


def substance_blocks(changes: Changes) -> list[Block]:
    """Return the difference substance by substance."""
    if not changes.substances:
        return []
    columns = (
        Column("substance", head=True),
        Column("today, % w/w", "decimal"),
        Column("new, % w/w", "decimal"),
    )
    rows = tuple(
        (item.inci + (" (trace)" if item.trace else ""), percent(item.before), percent(item.after))
        for item in changes.substances
    )
    return [Heading("Substance by substance"), Table("Substances that differ", columns, rows)]
