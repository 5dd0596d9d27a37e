"""Tells a reformulation: the gain, the steps, and every difference."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from optiform.answers.model.answer import Answer
from optiform.answers.model.changes import (
    Changes,
    Lever,
    LineChange,
    MeasureChange,
    Rung,
    Step,
)
from optiform.bounds import bound_text
from optiform.views.words import sentences
from optiform.views.words.blocks import Block, Bullets, Field, Heading, Paragraph, joined, section, tabulated
from optiform.views.words.names import measure_name
from optiform.views.words.numbers import INDEX, NOTHING, decimals_of, digits_of, fixed, gained, percent, short
from optiform.views.words.property_words import changes_of

PLAIN_MEASURES = ("tag:", "share:", "undissociated:", "function:")
"""Prefixes of measures that stand in a table of their own, after those with a plain name."""
SEEN = 0.0005
"""A saving from here on shows in three decimals."""
LINES = (
    Field("material", lambda line: line.name, head=True),
    Field("", lambda line: line.kind, sheds=2),
    Field("today, % w/w", lambda line: percent(line.before), "decimal"),
    Field("new, % w/w", lambda line: percent(line.after), "decimal"),
    Field("cost, per kg", lambda line: _signed(line.cost), "decimal", sheds=1),
)
MEASURES = (
    Field("measure", lambda item: measure_name(item.measure), head=True),
    Field("today", lambda item: _figure(item.before, item), "decimal"),
    Field("new", lambda item: _figure(item.after, item), "decimal"),
    Field("unit", lambda item: item.unit, sheds=1),
)
SUBSTANCES = (
    Field("substance", lambda item: item.inci + (" (trace)" if item.trace else ""), head=True),
    Field("today, % w/w", lambda item: percent(item.before), "decimal"),
    Field("new, % w/w", lambda item: percent(item.after), "decimal"),
)


def today(answer: Answer) -> list[Block]:
    """Return today's formula, and whether it meets the brief."""
    baseline = answer.baseline
    if baseline is None:
        return []
    broken = f"breaks {len(baseline.breaks)} of the things that are asked:"
    holds = f"Today's formula {broken if baseline.breaks else 'holds everything that is asked.'}"
    words = Paragraph(f"{sentences.contents(baseline)}. {holds}")
    return section("Today", words, Bullets(tuple(map(sentences.broken, baseline.breaks)), tone="bad"))


def saving(changes: Changes, answer: Answer) -> str:
    """Return the whole gain, and what other amounts alone or other materials alone would bring."""
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
        ways.append(f"a new formula with nothing nearer to its limit than today {kept}")
    return f"{words} Each way by itself: {'; '.join(ways)}." if ways else words


def _brings(gain: float, unit: str) -> str:
    """Return a gain in words: "brings 0.10 EUR/kg", "costs 0.02 EUR/kg", "brings nothing"."""
    if abs(gain) < (0.5 if unit == INDEX else SEEN):
        return "brings nothing"
    return f"{'brings' if gain > 0 else 'costs'} {gained(gain, unit)}".rstrip()


def step_blocks(steps: Sequence[Step], unit: str) -> list[Block]:
    """Return the steps of the change, each a formula that meets everything."""
    if not steps:
        return []
    digits = digits_of(unit)
    fields = (
        Field("step", lambda row: str(row[0]), "right"),
        Field("change", lambda row: _step(row[1]), head=True),
        Field(f"brings, {unit}", lambda row: _signed(row[1].saving, digits), "decimal"),
        Field(f"then, {unit}", lambda row: fixed(row[1].aim, digits), "decimal", sheds=1),
    )
    total = ("", "together", _signed(sum(step.saving for step in steps), digits), "")
    words = "The most rewarding change first; after each step the formula holds everything, so you may stop at any."
    if any(step.saving < -SEEN and not step.repairs for step in steps):
        words += " A step below zero gives up a little of the aim, within the tie allowed, for the brief's next wish."
    return [
        Heading("Step by step"),
        Paragraph(words),
        tabulated("Single changes", fields, enumerate(steps, 1), total),
    ]


def _step(step: Step) -> str:
    parts = [_moved(line) for line in step.lines if line.material != "water"]
    text = "; ".join(parts) if parts else "water alone"
    return f"puts right what breaks today: {text}" if step.repairs else text


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
    table = tabulated("Lines that differ", LINES, lines)
    return section("Line by line", table) if lines else [Paragraph("No amount differs from today's.")]


def property_blocks(changes: Changes) -> list[Block]:
    """Return the properties that changed although nobody asked."""
    told = tuple(changes_of(changes.properties))
    unchanged = Paragraph("Nothing that the library knows of.")
    return [Heading("Changed without being asked"), Bullets(told) if changes.properties else unchanged]


def lever_blocks(levers: Sequence[Lever], unit: str) -> list[Block]:
    """Return the wishes that would bring more if they moved."""
    if not levers:
        return []
    words = "Wishes that this brief holds fixed. Each was moved and solved again, the other choices kept:"
    return [Heading("Bigger levers"), Paragraph(words), Bullets(tuple(lever(item, unit) for item in levers))]


def lever(found: Lever, unit: str) -> str:
    """Return what moving a wish would free: "nettle-extract at 4 instead of 5 % w/w would free 0.12 EUR/kg"."""
    requirement = found.requirement
    measure = requirement.measure or ""
    label = measure.partition(":")[2] or measure or requirement.title
    here = bound_text(found.bound, requirement.side, requirement.decimals)
    amounts = f"{short(found.to)} instead of {here} {requirement.unit}".rstrip()
    part = "" if found.saving_percent is None else f", {fixed(found.saving_percent, 1)} %"
    verb = "free" if "/kg" in unit else "bring"
    told = f"{label} at {amounts} would {verb} {gained(found.saving, unit)}{part}"
    if found.buys is None:
        return told
    bought, digits = found.buys, found.buys.digits
    to, before = fixed(bought.to, digits), fixed(bought.before, digits)
    return f"{told}, which buys {bought.measure} {to} instead of {before} {bought.unit}".rstrip()


def ladder_blocks(ladder: Sequence[Rung], answer: Answer) -> list[Block]:
    """Return the best result for each number of new materials; empty where none is worth having."""
    if not any(rung.new for rung in ladder):
        return []
    names = {} if answer.brief is None else {m.id: m.name for m in answer.brief.library.materials}
    digits = digits_of(answer.aim_unit)

    def named(ids: Sequence[str]) -> str:
        return joined([names.get(name, name) for name in ids]) or NOTHING

    fields = (
        Field("new at most", lambda rung: str(rung.at_most_new), "right", head=True),
        Field(
            f"{answer.aim}, {answer.aim_unit}",
            lambda rung: "cannot be met" if rung.aim is None else fixed(rung.aim, digits),
            "decimal",
        ),
        Field(
            "brings", lambda rung: NOTHING if rung.saving is None else _signed(rung.saving, digits), "decimal"
        ),
        Field("new materials", lambda rung: named(rung.new)),
        Field("dropped", lambda rung: named(rung.dropped), sheds=1),
    )
    table = tabulated("Best by number of new materials", fields, ladder)
    return section("What each further new material buys", table)


def measure_blocks(measures: Sequence[MeasureChange]) -> list[Block]:
    """Return the difference measure by measure."""
    if not measures:
        return []
    told = [item for item in measures if _figure(item.before, item) != _figure(item.after, item)]
    ordered = sorted(told, key=lambda item: item.measure.startswith(PLAIN_MEASURES))
    return section("Measure by measure", tabulated("Measures that differ", MEASURES, ordered))


def _figure(value: float | None, item: MeasureChange) -> str:
    """Return a value in its usual digits, or in up to four figures where two values would read alike."""
    digits = item.digits
    if item.before is not None and item.after is not None and item.unit != INDEX:
        most = decimals_of(max(abs(item.before), abs(item.after)))
        while digits < most and fixed(item.before, digits) == fixed(item.after, digits):
            digits += 1
    return fixed(value, digits)


def substance_blocks(changes: Changes) -> list[Block]:
    """Return the difference substance by substance."""
    table = tabulated("Substances that differ", SUBSTANCES, changes.substances)
    return section("Substance by substance", table) if changes.substances else []


def _of(part: Callable[[Answer, Changes], list[Block]]) -> Callable[[Answer], list[Block]]:
    """Return a part of an answer that has changes; nothing where it has none."""
    return lambda answer: [] if answer.changes is None else part(answer, answer.changes)


PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "today": today,
    "saving": _of(lambda answer, changes: section("What it brings", Paragraph(saving(changes, answer)))),
    "steps": _of(lambda answer, changes: step_blocks(changes.steps, answer.aim_unit)),
    "changed lines": _of(lambda _, changes: line_blocks(changes.lines)),
    "changed properties": _of(lambda _, changes: property_blocks(changes)),
    "levers": _of(lambda answer, changes: lever_blocks(changes.levers, answer.aim_unit)),
    "ladder": _of(lambda answer, changes: ladder_blocks(changes.ladder, answer)),
    "changed measures": _of(lambda _, changes: measure_blocks(changes.measures)),
    "changed substances": _of(lambda _, changes: substance_blocks(changes)),
}
