"""One formula at one look: what to weigh, four figures, and the dearest of the limits that hold it there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.describe.sensible_steps import INDEX, step
from optiform.tolerances import EQUAL, ROUNDING
from optiform.views.words import sentences
from optiform.views.words.blocks import TIED, Block, Field, Paragraph, Table, tabulated
from optiform.views.words.numbers import (
    NOTHING,
    SHORT_UNIT,
    bounded,
    figure,
    figure_text,
    fixed,
    inside,
    money,
    percent,
    rounded_out,
    short,
    unit_of,
    wanted,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from optiform.answers.model.answer import Acidity, Answer, Binding, Dose, Figure, Formula, Line
    from optiform.answers.model.weighing import Weighable
    from optiform.views.words.names import Names

FIGURES = ("active matter", "mildness", "pH", "ingredients", "natural origin", "viscosity")
"""What is read first, in this order, among figures of which none is asked for rather than another."""
FOUR, FIVE = 4, 5
LIMITS_FOLD, FIGURES_FOLD = 1, 2
PER = 100.0
COUNTED = "materials"
UNWEIGHED = 0.01
"""Less than this is nothing to have ready [g]."""


def weigh(formula: Formula, names: Names) -> list[Block]:
    """Return what to weigh, in working order: grams of the batch where there are any, and % w/w."""
    version: Weighable | None = formula.weighable
    if version is None:
        fields = [*_materials(formula, {}, names), Field("% w/w", sentences.amount, "decimal")]
        caption = "What to weigh"
    else:
        digits = _places(version.balance_g)
        grams = {line.material: fixed(line.grams, digits) for line in version.lines}
        strengths = {line.material: line.solution for line in version.lines if line.solution is not None}
        fields = [
            *_materials(formula, strengths, names),
            Field("g", lambda line: grams.get(line.material, NOTHING), "decimal"),
            Field("% w/w", sentences.amount, "decimal"),
        ]
        caption = f"Weigh for {short(version.batch_g)} g"
    blocks: list[Block] = [light(tabulated(caption, fields, formula.lines))]
    told = _pH_by_the_meter(formula, names)
    return [*blocks, Paragraph(told, under=True)] if told else blocks


def _materials(formula: Formula, strengths: dict[str, float], names: Names) -> list[Field]:
    """Return the columns that name what is weighed: its phase, where anything has one, and the material."""

    def named(line: Line) -> str:
        strength = strengths.get(line.material)
        if strength is None:
            return line.name
        return f"{names.short(line.material)}, as a {short(strength)} % solution"

    phase = Field("", lambda line: line.phase or NOTHING, once=True)
    material = Field("", named, head=True, cut=True)
    return [phase, material] if any(line.phase for line in formula.lines) else [material]


def _places(balance_g: float) -> int:
    """Return the decimals that a balance shows."""
    return len(short(balance_g).partition(".")[2])


def light(table: Table, folds: int = 0, keeps: int = 0) -> Table:
    """Return a table as a first screen shows it: without rules, and shortened in its turn."""
    return Table(table.caption, table.columns, table.rows, table.total, light=True, folds=folds, keeps=keeps)


def _pH_by_the_meter(formula: Formula, names: Names) -> str:
    """Return what to have ready for the pH, in grams of the batch where there is one."""
    found = formula.acidity
    doses = () if found is None else (*found.doses, *found.have_ready)
    if found is None or not doses:
        return ""
    batch = PER if formula.weighable is None else formula.weighable.batch_g
    ready = "; ".join(f"{names.within(dose.material)} {_ready(dose, batch)}" for dose in doses)
    return f"Set pH {fixed(found.pH, 1)} by the meter, in portions. Have ready: {ready}."


def _ready(dose: Dose, batch_g: float) -> str:
    """Return between which grams likely lots need an acid or base."""
    low, high = (end * batch_g / PER for end in (dose.low, dose.high))
    if low < UNWEIGHED:
        return f"up to {rounded_out(high, up=True)} g"
    return f"{rounded_out(low, up=False)} to {rounded_out(high, up=True)} g"


def figures(formula: Formula, names: Names) -> list[Block]:
    """Return the four figures that are read first, each with what was wanted of it."""
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
    """Return the four figures that are read first: what was asked for, and what every formulator looks at."""

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
    """Return what was wanted, and where likely lots put the pH."""
    ends = (item.at_least, item.at_most)
    bounds = wanted(*(None if end is None else round(float(f"{end:.4g}"), 2) for end in ends))
    told = [f"wanted {bounds}"] if bounds else []
    if item.measure == "pH" and acidity is not None and acidity.high - acidity.low >= 0.1:
        told.append(f"nine lots in ten {fixed(acidity.low, 1)} to {fixed(acidity.high, 1)}")
    return "; ".join(told)


def limits(answer: Answer, formula: Formula, names: Names) -> list[Block]:
    """Return the five dearest limits, by what one sensible step of each costs."""
    priced = sorted(_priced(formula, names), key=lambda row: -row[0])[:FIVE]
    if not priced:
        return []
    unit = answer.aim_unit
    fields = (
        Field("", lambda row: row[1], head=True, cut=True),
        Field("asked", lambda row: row[2]),
        Field("a step", lambda row: row[3]),
        Field(unit if len(unit) <= SHORT_UNIT else "costs", lambda row: _less(money(row[0], unit)), "right"),
        Field("until", lambda row: row[4], "right"),
    )
    return [light(tabulated(f"What holds the {answer.aim} there", fields, priced), LIMITS_FOLD, 2)]


def _less(text: str) -> str:
    return text.replace("less than ", "<")


def _priced(formula: Formula, names: Names) -> Iterator[tuple[float, str, str, str, str]]:
    """Yield what a step of each limit costs, its name, what it asks, the step, how far the price holds.

    Limits that meet in one corner, at one bound and one price, are told once: as the brief states them.
    """
    told: set[tuple[float, str, float]] = set()
    for item in sorted(formula.binding, key=lambda found: found.requirement.origin != "brief"):
        requirement, cost = item.requirement, item.marginal_cost
        if cost is None or requirement.bound is None or requirement.side is None:
            continue
        size = _step_of(item)
        corner = (requirement.bound, requirement.unit, round(cost, 6))
        if size is None or cost <= ROUNDING or corner in told:
            continue
        told.add(corner)
        upwards, bound = requirement.side != "at_most", requirement.bound
        unit = "" if requirement.choice else unit_of(requirement.unit)
        percent_sign = unit if unit == " %" else ""
        end = item.holds_to if upwards else item.holds_from
        far = None if end is None or requirement.choice else inside(end, bound)
        whole = far.partition(".")[0] if far is not None and requirement.unit == INDEX else far
        fewer = "fewer" if requirement.choice else "less"
        yield (
            cost * size,
            names.limit(requirement) if not requirement.choice else requirement.tail or requirement.title,
            f"{'at least' if upwards else 'at most'} {bounded(bound)}{percent_sign}",
            f"{short(size)}{unit} {'more' if upwards else fewer}",
            NOTHING if whole is None else f"{whole}{percent_sign}",
        )


def _step_of(item: Binding) -> float | None:
    """Return one sensible step of a limit, or a smaller one for which its price still holds; None where none does."""
    requirement = item.requirement
    if requirement.choice:
        return 1.0
    size, bound = step(requirement), requirement.bound or 0.0
    end = item.holds_from if requirement.side == "at_most" else item.holds_to
    smaller = (size, size / 5.0, 0.0) if size == 5.0 else (size, size / 10.0, size / 100.0)
    for one in smaller:
        if one and (end is None or abs(end - bound) >= one * (1.0 - EQUAL)):
            return float(f"{one:.3g}")
    return None


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
    shown = len(told)
    while shown > 1 and len(_listed(told, shown)) > room:
        shown -= 1
    return _listed(told, shown)


def _listed(told: Sequence[str], shown: int) -> str:
    left = len(told) - shown
    text = ", ".join(told[:shown]) + (f" and {left} more" if left else "")
    return f"{text[:1].upper()}{text[1:]}; the rest water."
