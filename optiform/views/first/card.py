"""Makes the bench card: one page to weigh and work by, with blanks to write into."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from optiform.sheets.record.batch import Batch, Weighing
from optiform.sheets.record.card import Card, Instead
from optiform.sheets.record.steps import Portion, Step
from optiform.views.words import sheet_words as words
from optiform.views.words.blocks import (
    Block,
    Column,
    Field,
    Heading,
    Paragraph,
    Table,
    joined,
    light,
    tabulated,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import figure, fixed, give_or_take, rounded_out, short

SEEN = 0.01
"""Less is nothing on a card [g]."""
FINER = "Only a finer balance or a larger batch weighs"
NAMED = 3
"""So many materials of a step are named; the table above has all of them, by phase."""
GLOVES, MASK = "Goggles and gloves", "Mask, no draught"
READINGS = (
    "viscosity, mPa.s, or feel between the fingers",
    "clear, hazy or parted; foam, scent",
)
CARE = (
    "A trial, not a product: before others use it a challenge test, stability, a safety assessment by a qualified "
    "person, the local law."
)


class Row(NamedTuple):
    """One line of the weighing table."""

    phase: str
    name: str
    grams: str
    blank: str


def card_blocks(card: Card) -> list[Block]:
    """Return the bench card: hazards, weighing table, pH, steps and readings, with blanks."""
    batch = card.record.batch
    names = Names(
        ((line.material, line.name) for line in batch.lines), (line.material for line in batch.lines)
    )
    blocks: list[Block] = [
        Heading(card.record.title, 1, aside=f"bench card, {short(batch.batch_g)} g"),
        Paragraph(
            f"Batch number {words.LINE} made by {words.LINE} on {words.LINE} balance {short(batch.balance_g)} g"
        ),
    ]
    hazards = list(_hazards(card, names))
    blocks += [Paragraph(" ".join(hazards), "caution")] if hazards else []
    instead = {item.material: item for item in card.instead}
    blocks += [_weighing(card, instead, names), *_light_ones(card, instead, names)]
    pH = _pH(card, names)
    blocks += [Paragraph(pH)] if pH else []
    return [*blocks, _steps(card, names), _readings(card), Paragraph(CARE, "caution")]


def _hazards(card: Card, names: Names) -> Iterator[str]:
    """Yield the protection that materials need, the worst first, and which steps are hot."""
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


def _light_ones(card: Card, instead: Mapping[str, Instead], names: Names) -> list[Block]:
    """Return a note on amounts that are too light for the balance."""
    told = []
    if instead:
        water = sum(item.water_g for item in instead.values())
        less = f"; {figure(water, 2)} g less water, which comes with them" if water >= SEEN else ""
        told.append(f"Too light for this balance: solutions or drops, 20 to the mL{less}.")
    lines = (line for line in card.record.batch.lines if line.too_light and line.material not in instead)
    heavier = [names.within(line.material) for line in lines]
    if heavier:
        told.append(f"{FINER} {joined(heavier)}.")
    return [Paragraph(" ".join(told), under=True)] if told else []


def _weighing(card: Card, instead: Mapping[str, Instead], names: Names) -> Table:
    """Return the weighing table by phase, with replacements for amounts that are too light."""
    batch = card.record.batch
    rows: list[Row] = []
    for line in batch.lines:
        other, grams = instead.get(line.material), fixed(line.grams, batch.digits)
        if other is not None:
            taken = grams if other.drops is not None else fixed(other.grams, batch.digits)
            rows.append(Row(line.phase, _instead(line, other, batch.digits, names), taken, words.LINE))
        else:
            rows.append(Row(line.phase, line.name, grams, "too light" if line.too_light else words.LINE))
    fields = (
        Field("", lambda row: row.phase, once=True),
        Field("", lambda row: row.name, head=True, cut=True),
        Field("g", lambda row: row.grams, "decimal"),
        Field("weighed g", lambda row: row.blank),
    )
    total = f"Weigh, together {fixed(batch.total_g, batch.digits)} g"
    return light(tabulated(total, fields, rows))


def _instead(line: Weighing, other: Instead, digits: int, names: Names) -> str:
    """Return the replacement for an amount that is too light."""
    if other.drops is not None:
        return f"{names.short(line.material)}, about {other.drops:.0f} drops"
    meant = f"for {fixed(line.grams, digits)} g"
    if other.strength is not None:
        return f"{names.short(line.material)}, {short(other.strength)} % solution, {meant}"
    return f"{other.name}, {meant}"


def _pH(card: Card, names: Names) -> str:
    """Return the pH to set, the doses to have ready, and the range of likely lots."""
    procedure = card.record.procedure
    portions = (*(portion for step in procedure.steps for portion in step.portions), *procedure.ready)
    doses = [portion for portion in portions if portion.low_g is not None and portion.high_g is not None]
    aimed = card.pH_wanted or ("" if card.pH is None else fixed(card.pH, 1))
    if not aimed:
        return ""
    told = [f"pH {aimed}, by the meter, below 30 C, little by little."]
    ready = "; ".join(f"{names.within(dose.material)} {_dose(dose, card.record.batch)}" for dose in doses)
    told += [f"Have ready: {ready}."] if ready else []
    if card.pH is not None and card.pH_low is not None and card.pH_high is not None and doses:
        lots = give_or_take(card.pH, card.pH_low, card.pH_high, 1, fixed)
        told.append(f"As weighed about {fixed(card.pH, 1)}, nine lots in ten {lots}.")
    return " ".join(told)


def _dose(dose: Portion, batch: Batch) -> str:
    """Return the range of a dose in grams as the balance shows them."""
    low, high = dose.low_g or 0.0, dose.high_g or 0.0
    first, last = (rounded_out(end, up=up, most=batch.digits) for end, up in ((low, False), (high, True)))
    if first == last:
        return f"{last} g"
    return f"up to {last} g" if low < batch.balance_g else f"{first} to {last} g"


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
    title = words.step_title(step)
    held = [names.within(portion.material) for portion in step.portions]
    if len(held) > NAMED:
        held = [*held[: NAMED - 1], f"{len(held) - NAMED + 1} more"]
    return f"{title}: {joined(held)}" if held else title


def _readings(card: Card) -> Table:
    """Return the table of three readings, today and after a night."""
    columns = (Column("", head=True, cut=True), Column("today"), Column("after a night"))
    wanted = f"pH, {card.pH_wanted}" if card.pH_wanted else "pH"
    blank = words.LINE
    rows = tuple((text, blank, blank) for text in (wanted, *READINGS))
    return light(Table("Read", columns, rows))
