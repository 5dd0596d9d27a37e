"""Tells a batch record: weighing table, steps, and the blanks before and after."""

from __future__ import annotations

from functools import partial

from optiform.sheets.record.batch import Batch
from optiform.sheets.record.batch_record import BatchRecord, Blank, Part
from optiform.sheets.record.steps import Portion, Step
from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import (
    TIED,
    Block,
    Bullets,
    Column,
    Field,
    Heading,
    Paragraph,
    Table,
    tabulated,
)
from optiform.views.words.numbers import fixed, percent


def record_blocks(record: BatchRecord) -> list[Block]:
    """Return a batch record: blanks before, weighing table and steps, blanks after."""
    blocks: list[Block] = [Heading("Batch record")]
    for part in record.before:
        blocks += _part(part)
    blocks += [Heading("Weigh", 3), Paragraph(words.batch_line(record.batch)), _weighing(record.batch)]
    if record.notes:
        blocks.append(Bullets(record.notes, tone="quiet"))
    blocks.append(Heading("Make"))
    for step in record.procedure.steps:
        blocks += _step(step, record.batch, record.per_step)
    blocks.append(Heading("After making"))
    for part in record.after:
        blocks += _part(part)
    return blocks


def _weighing(batch: Batch) -> Table:
    fields = (
        Field("phase", lambda line: line.phase, sheds=1, once=True),
        Field(
            "material",
            lambda line: words.named(line.name, line.hazards) + (" – too light" if line.too_light else ""),
            head=True,
        ),
        Field("% w/w", lambda line: percent(line.percent), "decimal"),
        Field("target g", lambda line: fixed(line.grams, batch.digits), "decimal"),
        *map(_blank, ("actual g", "lot", "expiry", "weighed", "checked")),
    )
    total = ("", "total", "100", fixed(batch.total_g, batch.digits), words.LINE, "", "", "", "")
    return tabulated("What to weigh", fields, batch.lines, total)


def _blank(title: str) -> Field:
    """Return a column to fill in."""
    return Field(title, lambda _: "_" * max(6, len(title)))


def _step(step: Step, batch: Batch, blanks: tuple[Blank, ...]) -> list[Block]:
    title = f"{step.number}. {words.step_title(step)}"
    blocks: list[Block] = [Heading(title, 3)]
    if step.portions:
        fields = [
            Field("g", lambda portion: fixed(portion.grams, batch.digits), "decimal"),
            Field("material", lambda portion: words.named(portion.name, portion.hazards), head=True),
        ]
        if any(portion.low_g is not None for portion in step.portions):
            fields.append(Field("have ready, g", partial(_ready, digits=batch.digits)))
        blocks.append(tabulated(title, fields, step.portions))
    blocks.append(Paragraph(step.what))
    if step.why:
        blocks.append(Paragraph(f"Why: {step.why}", "quiet"))
    filled = (TIED.join(filter(None, (blank.title, "______", blank.unit))) for blank in blanks)
    return [*blocks, Paragraph("; ".join(filled))]


def _ready(portion: Portion, digits: int) -> str:
    """Return the range of a portion that likely lots need."""
    if portion.low_g is None or portion.high_g is None:
        return ""
    return f"{fixed(portion.low_g, digits)} to {fixed(portion.high_g, digits)}"


def _part(part: Part) -> list[Block]:
    """Return a part of the record: a list of blanks, or a table with empty rows where several are needed."""
    if part.rows > 1:
        columns = tuple(Column(blank.label) for blank in part.blanks)
        rows = tuple(tuple(words.LINE for _ in part.blanks) for _ in range(part.rows))
        return [Heading(part.title, 3), Table(part.title, columns, rows)]
    if part.key == "identity":
        planned = tuple((blank.label, blank.wanted or words.LINE * 2) for blank in part.blanks)
        return [Heading(part.title, 3), Table(part.title, (Column("", head=True), Column("")), planned)]
    wanted = any(blank.wanted for blank in part.blanks)
    columns = (
        Column("", head=True),
        *([Column("limit, or computed"), Column("result")] if wanted else [Column("")]),
    )
    rows = tuple((blank.label, *([blank.wanted] if wanted else []), words.LINE * 2) for blank in part.blanks)
    return [Heading(part.title, 3), Table(part.title, columns, rows)]
