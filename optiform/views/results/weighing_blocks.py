"""Grams for the balance, a lot's correction and what the bench taught, told in blocks and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optiform.views.data import json_document
from optiform.views.data.csv_table import table
from optiform.views.render.blocks import Block, Bullets, Column, Heading, Paragraph, Table
from optiform.views.render.numbers import fixed, percent, short
from optiform.views.results.weighable import in_drops, nearly_equal, rounding
from optiform.views.words import sentences

if TYPE_CHECKING:
    from optiform.answers.bench.lot_correction import LotCorrection
    from optiform.answers.bench.readings import Bench, FreeAlkali
    from optiform.answers.model.answer import Answer, Broken, Formula
    from optiform.answers.model.weighing import Stock, Weighable, WeighedLine

HOLDS = "It still holds everything that the planned formula holds."
METER = "Another lot may stand elsewhere: confirm with a pH meter."


def weigh_blocks(answer: Answer) -> list[Block]:
    """Return a typed formula in grams, or why it cannot be weighed and the ways out."""
    formula = answer.formulas[0]
    blocks: list[Block] = [Heading(answer.title, 1)]
    if formula.weighable is None:
        blocks += [Paragraph("This batch cannot be weighed on this balance.", "bad"), Bullets(formula.notes)]
    else:
        blocks += weighable_blocks(formula.weighable)
    blocks += _broken("As written, the formula breaks:", formula.breaks)
    blocks += [
        Heading("Cautions"),
        Bullets((*sentences.hazards(answer, formula), *sentences.cautions(answer)), tone="caution"),
    ]
    return blocks


def weighable_blocks(found: Weighable) -> list[Block]:
    """Return the grams of a batch: lines, solutions to make, drops, and what the rounding costs."""
    batch, step, least = short(found.batch_g), short(found.balance_g), short(round(found.least_g, 6))
    head = (
        f"A batch of {batch} g in steps of {step} g; the lines add up to it exactly. Nothing is lighter than "
        f"{least} g, which weighs within {short(found.error_percent)} %."
    )
    columns = (
        Column("grams", "decimal"),
        Column("material", head=True),
        Column("% w/w", "decimal"),
        Column(f"in drops, {short(found.drops_per_mL)} to the mL", sheds=1),
    )
    width = 4 if any(line.drops is not None for line in found.lines) else 3
    rows = tuple(
        (short(line.grams), _name(line), percent(line.percent), in_drops(line))[:width]
        for line in found.lines
    )
    total = (short(found.batch_g), "together", percent(100.0), "")[:width]
    grams = Table("Grams", columns[:width], rows, total)
    blocks: list[Block] = [Paragraph(head), grams, Paragraph(rounding(found))]
    if found.stocks:
        blocks.append(Bullets(tuple(_stock(stock) for stock in found.stocks)))
    if found.off:
        blocks.append(Bullets(nearly_equal(found)))
    return blocks


def _name(line: WeighedLine) -> str:
    return line.name if line.solution is None else f"{line.name}, as a {short(line.solution)} % solution"


def _stock(stock: Stock) -> str:
    return (
        f"{short(stock.percent)} % solution of {stock.name}: weigh {short(stock.material_g)} g, make up with "
        f"{short(stock.water_g)} g of water, stir until clear; {short(stock.use_g)} g of it go into the batch."
    )


def lot_blocks(found: LotCorrection) -> list[Block]:
    """Return a lot correction: the new amount, what the batch would have been without it, what holds."""
    blocks: list[Block] = [
        Heading(
            f"{found.name}: a lot of {short(found.measured)} % instead of {short(round(found.nominal, 4))} %",
            1,
        ),
        Paragraph(
            f"Take {found.after:.3f} % w/w instead of {found.before:.3f} %, water {found.water_after:.3f} % instead of "
            f"{found.water_before:.3f} % ({found.what} by the certificate)."
        ),
    ]
    if found.grams_before is not None and found.grams_after is not None:
        instead = f"{found.grams_after:.2f} g instead of {found.grams_before:.2f} g"
        blocks.append(Paragraph(f"In the batch of {short(found.batch_g or 0.0)} g: {instead}."))
    columns = (
        Column("measure", head=True),
        Column("planned", "decimal"),
        Column("this lot, uncorrected", "decimal"),
        Column("corrected", "decimal"),
    )
    rows = tuple(_row(figure.measure, figure.digits, found.planned, found.uncorrected, found.corrected)
                 for figure in found.planned.figures)  # fmt: skip
    blocks.append(Table("Measures", columns, rows))
    blocks += _broken("Uncorrected, this lot would break:", found.broken_uncorrected)
    if found.broken:
        blocks += _broken("Corrected, it still breaks what the planned formula held:", found.broken)
    else:
        blocks.append(Paragraph(HOLDS, "good"))
    return [*blocks, Paragraph(sentences.SHORT_CAUTION, "caution")]


def _row(measure: str, digits: int, *formulas: Formula) -> tuple[str, ...]:
    values = [next((f.value for f in formula.figures if f.measure == measure), None) for formula in formulas]
    return (measure, *(fixed(value, max(digits, 2)) for value in values))


def bench_blocks(found: Bench) -> list[Block]:
    """Return what a trial taught: the formula as it is now, and the alkali behind a measured pH."""
    title = found.formula.name or "a trial"
    blocks: list[Block] = [Heading(f"{title}, after the bench", 1)]
    if found.batch_g is not None:
        blocks.append(Paragraph(f"There are {short(round(found.batch_g, 4))} g of it now."))
    before = {line.material: line.percent for line in found.planned.lines}
    columns = (
        Column("material", head=True),
        Column("as written, % w/w", "decimal"),
        Column("now, % w/w", "decimal"),
    )
    rows = tuple(
        (line.name, fixed(before.get(line.material, 0.0), 3), fixed(line.percent, 3))
        for line in found.now.lines
    )
    blocks.append(Table("Amounts", columns, rows))
    if found.pH is not None:
        told = found.now.acidity
        computed = (
            "none"
            if told is None
            else f"{fixed(told.pH, 2)}, likely lots between {sentences.likely_pH(told)}"
        )
        blocks += [
            Heading("The pH that was measured"),
            Paragraph(f"Computed from the library: {computed}. Measured: {fixed(found.pH, 2)}."),
            Bullets(tuple(_alkali(item) for item in found.free_alkali)),
            Paragraph(f"With these in materials.csv the next answer doses this formula as the bench did. {METER}"),
        ]  # fmt: skip
    last = found.corrected or found.now
    blocks += _broken("As it is now, it breaks:", last.breaks)
    return [*blocks, Paragraph(sentences.SHORT_CAUTION, "caution")]


def _alkali(item: FreeAlkali) -> str:
    return f"free_alkali of {item.material}: {item.before:.4g} becomes {item.after:.6g} mmol/kg"


def _broken(words: str, items: tuple[Broken, ...]) -> list[Block]:
    if not items:
        return []
    return [Paragraph(words, "bad"), Bullets(tuple(sentences.broken(item) for item in items), tone="bad")]


def weigh_table(answer: Answer) -> str:
    """Return the grams as CSV; only the header where nothing can be weighed."""
    found: Any = answer.formulas[0].weighable
    rows = (
        []
        if found is None
        else [(line.material, line.grams, line.percent, line.solution) for line in found.lines]
    )
    return table(("material", "grams", "percent", "solution_percent"), rows)


def lot_document(found: LotCorrection) -> str:
    """Return a lot correction as JSON."""
    plain = {
        name: getattr(found, name) for name in ("material", "what", "nominal", "measured", "before", "after")
    }
    return json_document.document("lot", {
        **plain,
        "water_before": found.water_before,
        "water_after": found.water_after,
        "batch_g": found.batch_g,
        "grams_before": found.grams_before,
        "grams_after": found.grams_after,
        "holds": not found.broken,
        "measures": {
            "planned": _figures(found.planned),
            "uncorrected": _figures(found.uncorrected),
            "corrected": _figures(found.corrected),
        },
        "breaks": [{"requirement": item.requirement.title, "message": item.message} for item in found.broken],
        "breaks_uncorrected": [
            {"requirement": item.requirement.title, "message": item.message} for item in found.broken_uncorrected
        ],
    })  # fmt: skip


def bench_document(found: Bench) -> str:
    """Return what a trial taught as JSON."""
    return json_document.document("bench", {
        "batch_g": found.batch_g,
        "lines": [{"material": name, "percent": value} for name, value in found.formula.lines],
        "pH": found.pH,
        "pH_computed": None if found.now.acidity is None else found.now.acidity.pH,
        "free_alkali": found.free_alkali,
        "measures": _figures(found.corrected or found.now),
        "breaks": [
            {"requirement": item.requirement.title, "message": item.message}
            for item in (found.corrected or found.now).breaks
        ],
    })  # fmt: skip


def _figures(formula: Formula) -> dict[str, float | None]:
    return {figure.measure: figure.value for figure in formula.figures}


def formula_table(lines: tuple[tuple[str, float], ...]) -> str:
    """Return a formula as CSV that every command reads: material, percent."""
    return table(("material", "percent"), lines)
