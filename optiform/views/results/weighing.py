"""Tells grams for the balance, the correction for a lot, and what a trial taught."""

from __future__ import annotations

from optiform.answers.bench.lot_correction import LotCorrection
from optiform.answers.bench.readings import Bench
from optiform.answers.model.answer import Answer, Broken, Figure, Formula
from optiform.answers.model.weighing import Stock, Weighable, WeighedLine
from optiform.measures.catalogue import COUNT
from optiform.views.words import sentences
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Field,
    Heading,
    Paragraph,
    Rows,
    Tone,
    bullets,
    tabulated,
)
from optiform.views.words.names import measure_name
from optiform.views.words.numbers import bounded, fine_percent, fixed, money, percent, places_of, short

HOLDS = "It still holds everything that the planned formula holds."
METER = "Another lot may stand elsewhere: confirm with a pH meter."


def grams_of(version: Weighable) -> dict[str, str]:
    """Return the grams to weigh by material id, as written on a label."""
    digits = places_of(version.balance_g)
    return {line.material: fixed(line.grams, digits) for line in version.lines}


def weighable_heading(formula: Formula, version: Weighable) -> str:
    """Return a line on the column of grams, with the cost of weighing in steps."""
    return (
        f"Grams for a batch of {short(version.batch_g)} g, in steps of {short(version.balance_g)} g that add up to it. "
        f"{rounding(version)}{_apart(formula, version)}"
    )


def _apart(formula: Formula, version: Weighable) -> str:
    """Return why a percentage and its grams differ in the last figure; empty where they do not."""
    grams = {line.material: line.grams for line in version.lines}
    differ = any(
        line.printed is not None
        and abs(line.printed - 100.0 * grams.get(line.material, 0.0) / version.batch_g)
        > 0.51 * 10.0**-line.places
        for line in formula.lines
    )
    return " Percents and grams are each rounded so that they hold by themselves." if differ else ""


def weighable_notes(version: Weighable) -> tuple[str, ...]:
    """Return notes on the grams: single values that no step meets, acid and base in drops."""
    dropped = tuple(
        f"{line.name} in drops, {short(version.drops_per_mL)} to the mL: {in_drops(line)}."
        for line in version.lines
        if line.drops is not None
    )
    return (*nearly_equal(version), *dropped)


def rounding(version: Weighable) -> str:
    """Return what weighing in steps costs."""
    cost = version.cost_of_rounding
    amount = money(cost, unit := f"{version.currency}/kg")
    if amount.startswith("less"):
        return f"Weighing in steps changes the cost by {amount} {unit}."
    return f"Weighing in steps makes it {amount} {unit} {'dearer' if cost > 0 else 'cheaper'}."


def nearly_equal(version: Weighable) -> tuple[str, ...]:
    """Return the single values that no step of the balance meets, and the values met instead."""
    return tuple(
        f"{item.requirement.title}: weighed it is {'unknown' if item.value is None else f'{item.value:.6g}'}, "
        "as near as a step allows."
        for item in version.off
    )


def in_drops(line: WeighedLine) -> str:
    """Return an acid or base of a small trial in drops; empty where it is not dropped."""
    if line.drops is None:
        return ""
    drops = line.drops
    guess = "" if drops.density is not None else ", density taken as 1"
    if drops.solution_percent is None:
        return f"about {drops.drops:.0f}{guess}"
    grams = f"({drops.solution_g:.2f} g, {drops.water_g:.2f} g of it water)"
    return f"about {drops.drops:.0f} of a {short(drops.solution_percent)} % solution {grams}{guess}"


def weigh_blocks(answer: Answer) -> list[Block]:
    """Return a typed formula in grams, or why it cannot be weighed and the ways out."""
    formula = answer.formulas[0]
    blocks: list[Block] = [Heading(answer.title, 1)]
    if formula.weighable is None:
        blocks += [Paragraph("This batch cannot be weighed on this balance.", "bad"), Bullets(formula.notes)]
    else:
        blocks += weighable_blocks(formula.weighable)
    blocks += broken("As written, the formula breaks:", formula.breaks)
    told = (*sentences.hazards(answer, formula), *sentences.cautions(answer))
    return [*blocks, *bullets("Cautions", told, "caution")]


def weighable_blocks(found: Weighable) -> list[Block]:
    """Return the grams of a batch: lines, solutions to make, drops, and what the rounding costs."""
    batch, step, least = short(found.batch_g), short(found.balance_g), short(round(found.least_g, 6))
    head = (
        f"A batch of {batch} g in steps of {step} g; the lines add up to it exactly. Nothing is lighter than "
        f"{least} g, which weighs within {short(found.error_percent)} %."
    )
    width = 4 if any(line.drops is not None for line in found.lines) else 3
    places = places_of(found.balance_g)
    grams_field = Field("grams", lambda line: fixed(line.grams, places), "decimal")
    fields = (
        grams_field,
        *NAMED,
        Field(f"in drops, {short(found.drops_per_mL)} to the mL", in_drops, sheds=1),
    )[:width]
    total = (fixed(found.batch_g, places), "together", percent(100.0), "")[:width]
    grams = tabulated("Grams", fields, found.lines, total)
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


def lot_blocks(found: LotCorrection, notes: tuple[str, ...] = ()) -> list[Block]:
    """Return a lot correction: the new amount, what the batch would have been without it, what holds.

    `notes` say how the formula was read.
    """
    blocks: list[Block] = [
        Heading(
            f"{found.name}: a lot of {short(found.measured)} % instead of {short(round(found.nominal, 4))} %",
            1,
        ),
        Paragraph(
            f"Take {fine_percent(found.after)} % w/w instead of {fine_percent(found.before)} %, water "
            f"{fine_percent(found.water_after)} % instead of {fine_percent(found.water_before)} % "
            f"({found.what} by the certificate)."
        ),
    ]
    if found.grams_before is not None and found.grams_after is not None:
        instead = f"{found.grams_after:.2f} g instead of {found.grams_before:.2f} g"
        blocks.append(Paragraph(f"In the batch of {short(found.batch_g or 0.0)} g: {instead}."))
    fields = (
        Field("measure", figure_name, head=True),
        _measured("planned", found.planned),
        _measured("left as is", found.uncorrected),
        _measured("corrected", found.corrected),
    )
    changed = [
        figure for figure in found.planned.figures if len({field.read(figure) for field in fields[1:]}) > 1
    ]
    blocks.append(tabulated("What this lot changes", fields, changed))
    blocks.append(Paragraph("Every other figure stays as planned.", "quiet"))
    blocks += broken("Uncorrected, this lot would break:", found.broken_uncorrected)
    blocks += broken("Corrected, it still breaks what the planned formula held:", found.broken)
    blocks += [] if found.broken else [Paragraph(HOLDS, "good")]
    return [*blocks, *beside(notes)]


def beside(notes: tuple[str, ...]) -> list[Block]:
    """Return how a formula was read, and the short caution."""
    return [*([Bullets(notes)] if notes else []), Paragraph(sentences.SHORT_CAUTION, "caution")]


def _measured(title: str, formula: Formula) -> Field:
    """Return a column with the values of a formula, as fine as a small change needs."""
    values = {figure.measure: figure.value for figure in formula.figures}
    return Field(title, lambda figure: fine(values.get(figure.measure), figure), "decimal")


def figure_name(figure: Figure) -> str:
    """Return the name of a figure with its unit: "natural origin, %"."""
    unit = "" if figure.unit in ("", "-") else f", {figure.unit}"
    return f"{measure_name(figure.measure)}{unit}"


def fine(value: float | None, figure: Figure) -> str:
    """Return a value with one decimal more than usual, so that small changes show; a count has none."""
    return fixed(value, 0 if figure.measure == COUNT else max(figure.digits, 1 if figure.digits == 0 else 2))


def bench_blocks(found: Bench) -> list[Block]:
    """Return what a trial taught: the formula as it is now, the alkali behind a measured pH, how it was read."""
    title = found.formula.name or "a trial"
    blocks: list[Block] = [Heading(f"{title}, after the bench", 1)]
    if found.batch_g is not None:
        blocks.append(Paragraph(f"There are {short(round(found.batch_g, 4))} g of it now."))
    before = {line.material: line.percent for line in found.planned.lines}
    fields = (
        Field("material", lambda line: line.name, head=True),
        Field("as written, % w/w", lambda line: fine_percent(before.get(line.material, 0.0)), "decimal"),
        Field("now, % w/w", lambda line: fine_percent(line.percent), "decimal"),
    )
    blocks.append(tabulated("Amounts", fields, found.now.lines))
    if found.pH is not None:
        told, names = found.now.acidity, {line.material: line.name for line in found.now.lines}
        computed = (
            "none"
            if told is None
            else f"{fixed(told.pH, 2)}, nine likely lots in ten {sentences.likely_pH(told)}"
        )
        blocks += [
            Heading("The pH that was measured"),
            Paragraph(f"Computed from the library: {computed}. Measured: {fixed(found.pH, 2)}."),
            Bullets(tuple(
                f"Free alkali of {names[item.material]}: {bounded(item.after)} mmol/kg "
                f"instead of {bounded(item.before)}"
                for item in found.free_alkali
            )),
            Paragraph(
                "With these in the column free_alkali of materials.csv (--note writes them) the next answer doses this "
                f"formula as the bench did. {METER}"
            ),
        ]  # fmt: skip
    last = found.corrected or found.now
    blocks += broken("As it is now, it breaks:", last.breaks)
    return [*blocks, *beside(found.formula.notes)]


def broken(words: str, items: tuple[Broken, ...], tone: Tone = "bad") -> list[Block]:
    """Return broken requirements under some words; empty without any."""
    told = tuple(map(sentences.broken, items))
    return [Paragraph(words, tone), Bullets(told, tone=tone)] if told else []


NAMED = (
    Field("material", _name, head=True),
    Field("% w/w", lambda line: percent(line.percent), "decimal"),
)


def weigh_rows(answer: Answer) -> Rows:
    """Return the grams; no row where nothing can be weighed."""
    found: Weighable | None = answer.formulas[0].weighable
    lines = () if found is None else found.lines
    return ("material", "grams", "percent", "solution_percent"), [
        (line.material, line.grams, line.percent, line.solution) for line in lines
    ]


def formula_rows(lines: tuple[tuple[str, float], ...]) -> Rows:
    """Return a formula as every command reads one."""
    return ("material", "percent"), list(lines)
