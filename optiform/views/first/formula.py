"""Makes the parts of a formula on a first screen: weighing table, four figures, dearest limits."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Acidity, Answer, Binding, Dose, Figure, Formula, Line
from optiform.answers.model.weighing import Weighable
from optiform.bounds import PH_DECIMALS, window_text
from optiform.measures.learned import LOGARITHM
from optiform.views.words import sentences
from optiform.views.words.blocks import TIED, Block, Field, Paragraph, joined, light, tabulated
from optiform.views.words.limit_words import (
    asked_of,
    cost_of_step,
    dearest,
    name_of,
    reach_of,
    step_of,
    step_text,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import (
    INDEX,
    NOTHING,
    SHORT_UNIT,
    figure,
    figure_text,
    fixed,
    money,
    percent,
    places_of,
    roughly,
    rounded_out,
    short,
    unit_of,
)

FIGURES = ("active matter", "mildness", "pH", "ingredients", "natural origin", "viscosity")
"""What is read first, in this order, among figures of which none is asked for rather than another."""
FOUR = 4
LIMITS_FOLD, FIGURES_FOLD = 1, 2
PER = 100.0
COUNTED = "materials"
UNWEIGHED = 0.01
"""Less than this is nothing to have ready [g]."""


def weigh(formula: Formula, names: Names) -> list[Block]:
    """Return the weighing table in working order: grams where there is a batch, and % w/w."""
    version: Weighable | None = formula.weighable
    if version is None:
        fields = [*_materials(formula, {}, names), Field("% w/w", sentences.amount, "decimal")]
        caption = "What to weigh"
    else:
        digits = places_of(version.balance_g)
        weighed = {line.material: line for line in version.lines}
        strengths = {line.material: line.solution for line in version.lines if line.solution is not None}
        fields = [
            *_materials(formula, strengths, names),
            Field("g", lambda line: fixed(weighed[line.material].grams, digits), "decimal"),
            Field("% w/w", lambda line: percent(weighed[line.material].percent), "decimal"),
        ]
        caption = f"Weigh for {short(version.batch_g)} g"
    blocks: list[Block] = [light(tabulated(caption, fields, formula.lines))]
    told = _pH_by_the_meter(formula, names)
    return [*blocks, Paragraph(told, under=True)] if told else blocks


def _materials(formula: Formula, strengths: dict[str, float], names: Names) -> list[Field]:
    """Return the columns of phase, where any material has one, and material."""

    def named(line: Line) -> str:
        strength = strengths.get(line.material)
        if strength is None:
            return line.name
        return f"{names.short(line.material)}, as a {short(strength)} % solution"

    phase = Field("", lambda line: line.phase or NOTHING, once=True)
    material = Field("", named, head=True, cut=True)
    return [phase, material] if any(line.phase for line in formula.lines) else [material]


def _pH_by_the_meter(formula: Formula, names: Names) -> str:
    """Return the acid and base to have ready for the pH, in grams of the batch or of 100 g."""
    found = formula.acidity
    doses = () if found is None else (*found.doses, *found.have_ready)
    if found is None or not doses:
        return ""
    batch = PER if formula.weighable is None else formula.weighable.batch_g
    ready = "; ".join(f"{names.within(dose.material)} {_ready(dose, batch)}" for dose in doses)
    return f"Set pH {fixed(found.pH, 1)} by the meter, in portions. Have ready: {ready}."


def _ready(dose: Dose, batch_g: float) -> str:
    """Return the range of acid or base that likely lots need  [g]."""
    low, high = (end * batch_g / PER for end in (dose.low, dose.high))
    if low < UNWEIGHED:
        return f"up to {rounded_out(high, up=True)} g"
    return f"{rounded_out(low, up=False)} to {rounded_out(high, up=True)} g"


def figures(formula: Formula, names: Names) -> list[Block]:
    """Return the four figures that are read first, each with the bounds asked for."""
    rows = tuple(
        (names.measure(item.measure), value_of(item), wanted_of(item, formula.acidity))
        for item in first_figures(formula)
    )
    if not rows:
        return []
    fields = (
        Field("", lambda row: row[0], head=True, cut=True),
        Field("", lambda row: row[1]),
        Field("", lambda row: row[2], cut=True),
    )
    return [light(tabulated("", fields, rows), FIGURES_FOLD, 2)]


def first_figures(formula: Formula) -> list[Figure]:
    """Return the four figures that are read first: those asked for, then those of `FIGURES`."""

    def place(item: Figure) -> tuple[bool, int]:
        known = FIGURES.index(item.measure) if item.measure in FIGURES else len(FIGURES)
        return (item.at_least is None and item.at_most is None and item is not dosed, known)

    found = formula.figures
    sets_pH = formula.acidity is not None and bool(formula.acidity.doses or formula.acidity.have_ready)
    dosed = next((item for item in found if item.measure == "pH" and sets_pH), None)
    chosen = sorted((item for item in found if item.measure != "cost"), key=place)[:FOUR]
    return sorted(chosen, key=lambda item: place(item)[1])


def value_of(item: Figure) -> str:
    """Return a figure with its unit as a meter shows it: "11.0 %", "62 points", "4.8"."""
    if item.value is None and item.low is not None:
        return figure_text(None, item.low, item.high, min(item.digits, 1)) + unit_of(item.unit)
    unit = "" if item.unit == COUNTED else unit_of(item.unit)
    if item.unit == INDEX:
        return f"{fixed(item.value, 0)} {INDEX}"
    return figure(item.value, item.digits) + unit


def wanted_of(item: Figure, acidity: Acidity | None) -> str:
    """Return the bounds asked for, the range of pH of likely lots, and what trials predict."""
    bounds = window_text(item.at_least, item.at_most, max(PH_DECIMALS, item.digits))
    told = [f"wanted {bounds}"] if bounds else []
    if item.measure == "pH" and acidity is not None and acidity.high - acidity.low >= 0.1:
        told.append(f"nine lots in ten {sentences.likely_pH(acidity)}")
    if item.predicted is not None:
        told.append(f"9 in 10 read {roughly(item.predicted.low, item.predicted.high)}")
    return "; ".join(told)


def limits(answer: Answer, formula: Formula, names: Names) -> list[Block]:
    """Return the five dearest limits, by what one sensible step of each costs."""
    unit, rows = answer.aim_unit, dearest(formula)
    margin = answer.margin
    told: list[Block] = (
        [] if margin is None else [Paragraph(sentences.certainty(margin, answer.aim, unit), under=bool(rows))]
    )
    if not rows:
        return told
    fields = (
        Field("", lambda item: name_of(item.requirement, names), head=True, cut=True),
        Field("asked", lambda item: asked_of(item.requirement)),
        Field("a step", _step),
        Field(
            unit if len(unit) <= SHORT_UNIT else "costs",
            lambda item: _cost(cost_of_step(item) or 0.0, unit),
            "right",
        ),
        Field("until", reach_of, "right", sheds=1),
    )
    return [light(tabulated(f"What holds the {answer.aim} there", fields, rows), LIMITS_FOLD, 2), *told]


def _cost(cost: float, unit: str) -> str:
    """Return what a step costs; for a logarithmic aim as a percentage of the measure."""
    if unit.startswith(LOGARITHM):
        return f"{figure(100.0 * (1.0 - 10.0**-cost), 1)}{TIED}%"
    return money(cost, unit).replace("less than ", "<")


def _step(item: Binding) -> str:
    """Return one step tighter: "1 % more", "5 points less", "1 fewer"."""
    requirement, size = item.requirement, step_of(item)
    fewer = "fewer" if requirement.choice else "less"
    told = f"{step_text(size or 0.0, requirement)} {fewer if requirement.side == 'at_most' else 'more'}"
    return told.replace(" ", TIED)


def figures_in_a_line(formula: Formula, names: Names) -> str:
    """Return the figures that are read first on one line."""
    return " · ".join(
        (
            f"{value_of(item)} {item.measure}"
            if item.unit == COUNTED
            else f"{names.measure(item.measure)} {value_of(item)}"
        ).replace(" ", TIED)
        for item in first_figures(formula)
    )


def in_short(formula: Formula, names: Names, room: int) -> str:
    """Return a formula in one sentence: materials with % w/w, the largest first, as many as there is room for."""
    dry = (line for line in formula.lines if line.function != "water")
    told = [
        f"{names.within(line.material)} {percent(line.percent)} %"
        for line in sorted(dry, key=lambda line: (-round(line.percent, 4), line.material))
    ]
    wet = [names.within(line.material) for line in formula.lines if line.function == "water"]
    rest = "water" if all("water" in name for name in wet) else joined(wet)
    end = f"; the rest {rest}." if wet else "."
    shown = len(told)
    while shown > 1 and len(_listed(told, shown, end)) > room:
        shown -= 1
    return _listed(told, shown, end)


def _listed(told: Sequence[str], shown: int, end: str) -> str:
    left = len(told) - shown
    text = ", ".join(told[:shown]) + (f" and {left} more" if left else "")
    return f"{text[:1].upper()}{text[1:]}{end}"
