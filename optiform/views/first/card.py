"""The bench card: one page to weigh and work by, with blanks to write into."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from optiform.views.first.formula import light
from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import Block, Column, Field, Heading, Paragraph, Table, joined, tabulated
from optiform.views.words.names import Names
from optiform.views.words.numbers import figure, fixed, rounded_out, short

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from optiform.sheets.record.batch import Weighing
    from optiform.sheets.record.card import Card, Instead
    from optiform.sheets.record.steps import Portion, Step

SEEN = 0.01
"""Less is nothing on a card [g]."""
FINER = "Too light for this balance, and no solution will do; a finer balance or a larger batch for"
NAMED = 3
"""So many materials of a step are named; the table above has all of them, by phase."""
GLOVES, MASK = "Goggles and gloves", "Mask, no draught"
READINGS = (
    "viscosity, mPa.s, or feel between the fingers",
    "clear, hazy or parted; foam, scent",
)
CARE = (
    "A trial, not a product. Safety data sheets first; before others use it a challenge test, stability, a safety "
    "assessment by a qualified person, the local law."
)


class Row(NamedTuple):
    """One line of the weighing table."""

    phase: str
    name: str
    grams: str
    blank: str


def card_blocks(card: Card) -> list[Block]:
    """Return the bench card: what injures, what to weigh, the pH, the steps, three readings, blanks."""
    batch = card.record.batch
    names = Names(
        ((line.material, line.name) for line in batch.lines), (line.material for line in batch.lines)
    )
    blocks: list[Block] = [
        Heading(card.record.title, 1, aside=f"bench card, {short(batch.batch_g)} g"),
        Paragraph(
            f"Batch number {_blank()} made by {_blank()} on {_blank()} balance {short(batch.balance_g)} g"
        ),
    ]
    hazards = list(_hazards(card, names))
    blocks += [Paragraph("\n".join(hazards), "caution")] if hazards else []
    instead = {item.material: item for item in card.instead}
    blocks.append(_weighing(card, instead))
    heavier = [line.name for line in batch.lines if line.too_light and line.material not in instead]
    if heavier:
        blocks.append(Paragraph(f"{FINER}: {joined(heavier)}.", under=True))
    pH = _pH(card, names)
    blocks += [Paragraph(pH)] if pH else []
    return [*blocks, _steps(card, names), _readings(card), Paragraph(CARE, "caution")]


def _blank() -> str:
    return words.LINE


def _hazards(card: Card, names: Names) -> Iterator[str]:
    """Yield what to wear and for what, the worst first, and which steps are hot."""
    lines: Sequence[Weighing | Portion] = (*card.record.batch.lines, *card.record.procedure.ready)
    burns = [line for line in lines if "corrosive" in line.hazards]
    eyes = [line for line in lines if "eye-damage" in line.hazards and line not in burns]
    dust = [line for line in lines if "dust" in line.hazards]
    if burns:
        yield f"{GLOVES}, corrosive: {_named(burns, names)}. Add it to water."
    if eyes:
        yield f"{GLOVES}, injures eyes: {_named(eyes, names)}."
    if dust:
        yield f"{MASK}: {_named(dust, names)}."
    hot = [step for step in card.record.procedure.steps if step.above_C is not None]
    if hot:
        told = joined([str(step.number) for step in hot])
        yield f"Hot: step{'s' * (len(hot) > 1)} {told}, {short(max(step.above_C or 0.0 for step in hot))} C."


def _named(lines: Sequence[Weighing | Portion], names: Names) -> str:
    return joined([names.within(line.material) for line in lines])


def _weighing(card: Card, instead: Mapping[str, Instead]) -> Table:
    """Return what to weigh, by phase, with what to take where an amount is too light."""
    batch = card.record.batch
    rows: list[Row] = []
    for line in batch.lines:
        other, grams = instead.get(line.material), words.grams(line.grams, batch.digits)
        blank = words.LINE if not line.too_light else "too light"
        rows.append(Row(line.phase, line.name, grams, blank))
        if other is not None:
            rows.append(Row(line.phase, f"- {_instead(other)}", _taken(other, batch.digits), words.LINE))
    fields = (
        Field("", lambda row: row.phase, once=True),
        Field("", lambda row: row.name, head=True, cut=True),
        Field("g", lambda row: row.grams, "decimal"),
        Field("weighed g", lambda row: row.blank),
    )
    total = f"Weigh, together {words.grams(batch.total_g, batch.digits)} g"
    return light(tabulated(total, fields, rows))


def _instead(item: Instead) -> str:
    """Return what to take in place of an amount that is too light."""
    if item.drops is not None:
        return f"about {item.drops:.0f} drops, 20 to the mL"
    water = f", {figure(item.water_g, 2)} g less water" if item.water_g >= SEEN else ""
    if item.strength is not None:
        return f"as a {short(item.strength)} % solution{water}"
    return f"or {item.name}{water}"


def _taken(item: Instead, digits: int) -> str:
    return "" if item.drops is not None else words.grams(item.grams, digits)


def _pH(card: Card, names: Names) -> str:
    """Return the pH to set, what to have ready for it, and where likely lots stand."""
    procedure = card.record.procedure
    portions = (*(portion for step in procedure.steps for portion in step.portions), *procedure.ready)
    doses = [portion for portion in portions if portion.low_g is not None and portion.high_g is not None]
    aimed = card.pH_wanted or ("" if card.pH is None else fixed(card.pH, 1))
    if not aimed:
        return ""
    told = [f"pH {aimed}, by the meter, below 30 C, a little at a time."]
    ready = "; ".join(f"{names.within(dose.material)} {_dose(dose)}" for dose in doses)
    told += [f"Have ready: {ready}."] if ready else []
    if card.pH is not None and card.pH_low is not None and card.pH_high is not None and doses:
        lots = f"{fixed(card.pH_low, 1)} to {fixed(card.pH_high, 1)}"
        told.append(f"The dose as weighed gives about {fixed(card.pH, 1)}, nine lots in ten {lots}.")
    return " ".join(told)


def _dose(dose: Portion) -> str:
    low, high = dose.low_g or 0.0, dose.high_g or 0.0
    first = "up to" if low < SEEN else f"{rounded_out(low, up=False)} to"
    told = rounded_out(high, up=True)
    return f"{told} g" if first == f"{told} to" else f"{first} {told} g"


def _steps(card: Card, names: Names) -> Table:
    """Return the steps, one line each, with a box to tick."""
    fields = (
        Field("", lambda step: f"{step.number}", "right"),
        Field("", lambda step: _step(step, names), head=True),
        Field("", lambda _: words.BOX),
    )
    held = card.record.procedure.held_back_g
    back = f", hold back {figure(held, 2)} g of the water" if held >= SEEN else ""
    return light(tabulated(f"Make{back}", fields, card.record.procedure.steps))


def _step(step: Step, names: Names) -> str:
    when = words.conditions_of(step)
    title = f"{words.STEP_TITLES[step.kind]}{f' ({when})' if when else ''}"
    held = [names.within(portion.material) for portion in step.portions]
    if len(held) > NAMED:
        held = [*held[: NAMED - 1], f"{len(held) - NAMED + 1} more"]
    return f"{title}: {joined(held)}" if held else title


def _readings(card: Card) -> Table:
    """Return the three readings to take, today and after a night."""
    columns = (Column("", head=True, cut=True), Column("today"), Column("after a night"))
    wanted = f"pH, {card.pH_wanted}" if card.pH_wanted else "pH"
    blank = words.LINE
    rows = tuple((text, blank, blank) for text in (wanted, *READINGS))
    return light(Table("Read", columns, rows))
