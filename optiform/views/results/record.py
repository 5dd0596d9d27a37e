"""A batch record told in blocks: weighing table, steps, and the blanks before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import TIED, Block, Bullets, Column, Heading, Paragraph, Table
from optiform.views.words.numbers import percent

if TYPE_CHECKING:
    from optiform.sheets.record.batch import Batch
    from optiform.sheets.record.batch_record import BatchRecord, Blank, Part
    from optiform.sheets.record.steps import Step


def record_blocks(record: BatchRecord) -> list[Block]:
    """Return a batch record: what to fill in before, what to weigh and do, what to fill in after."""
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
    columns = (
        Column("phase", sheds=1), Column("material", head=True), Column("% w/w", "decimal"),
        Column("target g", "decimal"), Column("actual g"), Column("lot"), Column("expiry"), Column("weighed"),
        Column("checked"),
    )  # fmt: skip
    rows = []
    before = ""
    for line in batch.lines:
        name = words.named(line.name, line.hazards) + (" - too light" if line.too_light else "")
        phase = line.phase if line.phase != before else ""
        blanks = ("_" * max(6, len(column.title)) for column in columns[4:])
        rows.append((phase, name, percent(line.percent), words.grams(line.grams, batch.digits), *blanks))
        before = line.phase
    total = ("", "total", "100", words.grams(batch.total_g, batch.digits), words.LINE, "", "", "", "")
    return Table("What to weigh", columns, tuple(rows), total)


def _step(step: Step, batch: Batch, blanks: tuple[Blank, ...]) -> list[Block]:
    title, when = f"{step.number}. {words.STEP_TITLES[step.kind]}", words.conditions_of(step)
    title = f"{title} ({when})" if when else title
    blocks: list[Block] = [Heading(title, 3)]
    if step.portions:
        columns = [Column("g", "decimal"), Column("material", head=True)]
        ranged = any(portion.low_g is not None for portion in step.portions)
        if ranged:
            columns.append(Column("have ready, g"))
        rows = []
        for portion in step.portions:
            cells = [words.grams(portion.grams, batch.digits), words.named(portion.name, portion.hazards)]
            if ranged and portion.low_g is not None and portion.high_g is not None:
                low, high = (words.grams(value, batch.digits) for value in (portion.low_g, portion.high_g))
                cells.append(f"{low} to {high}")
            elif ranged:
                cells.append("")
            rows.append(tuple(cells))
        blocks.append(Table(title, tuple(columns), tuple(rows)))
    blocks.append(Paragraph(step.what))
    if step.why:
        blocks.append(Paragraph(f"Why: {step.why}", "quiet"))
    blocks.append(Paragraph("; ".join(_filled(blank) for blank in blanks)))
    return blocks


def _filled(blank: Blank) -> str:
    """Return a blank with its title and unit, never parted at the end of a line."""
    return TIED.join(filter(None, (blank.title, "______", blank.unit)))


def _part(part: Part) -> list[Block]:
    """Return a block of blanks: a list for one of each, a table with empty rows for several."""
    if part.rows > 1:
        columns = tuple(Column(_title(blank)) for blank in part.blanks)
        rows = tuple(tuple(words.LINE for _ in part.blanks) for _ in range(part.rows))
        return [Heading(part.title, 3), Table(part.title, columns, rows)]
    if part.key == "identity":
        planned = tuple((_title(blank), blank.wanted or words.LINE * 2) for blank in part.blanks)
        return [Heading(part.title, 3), Table(part.title, (Column("", head=True), Column("")), planned)]
    wanted = any(blank.wanted for blank in part.blanks)
    columns = (
        Column("", head=True),
        *([Column("limit, or computed"), Column("result")] if wanted else [Column("")]),
    )
    rows = tuple(
        (_title(blank), *([blank.wanted] if wanted else []), words.LINE * 2) for blank in part.blanks
    )
    return [Heading(part.title, 3), Table(part.title, columns, rows)]


def _title(blank: Blank) -> str:
    return f"{blank.title}, {blank.unit}" if blank.unit else blank.title
