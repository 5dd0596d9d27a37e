"""Describes a formula from its amounts: lines, figures, ingredients, acidity and notes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from optiform.answers.describe.acidity import acidity_of
from optiform.answers.describe.house_notes import house_notes, only_for_a_rule
from optiform.answers.describe.label_list import label_of
from optiform.answers.describe.limits import asking_for, room_for_pH
from optiform.answers.describe.printed import printed
from optiform.answers.describe.remarks import body, remarks
from optiform.answers.describe.sensible_steps import aim_with_penalties
from optiform.answers.describe.slack import slack_of
from optiform.answers.describe.traces import trace_notes
from optiform.answers.model.answer import (
    Acidity,
    Binding,
    Broken,
    Figure,
    Formula,
    Ingredient,
    Line,
    Prediction,
    Preferred,
)
from optiform.bounds import number
from optiform.brief.models import Brief
from optiform.chemistry import IONIC_STRENGTH_LIMIT
from optiform.library.models import Library, phases_of
from optiform.measures import Catalogue, Measure
from optiform.measures.acidity import charge_curves, charge_stated
from optiform.measures.learned import Learned
from optiform.measures.parts import CHARGE_CLASSES
from optiform.program import Program
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats

SURE = 0.9
"""Of what trials predict."""

ALWAYS = (
    "cost",
    "active matter",
    *CHARGE_CLASSES,
    "mildness",
    "irritation load",
    "pH",
    "electrolyte",
    "natural origin",
    "natural origin without water",
    "viscosity",
    "emulsifier HLB",
    "required HLB",
    "ingredients",
)
PHASES = ("water", "gum", "oil", "surfactant", "cool", "adjust", None)
ROOM = 0.3
"""A pH window narrower than this leaves no room for a meter and for drift (common practice, no source)."""
STAND_INS = {
    "neutral": "Counted as neutral in the pH, because the library declares it so",
    "pH": "Known from the supplier's pH at 10 % alone, hence a wide range of pH; a titration would narrow it",
}
"""What is said of materials for whose acid-base data something else stands in, by their `acid_base`."""
NEAR = 1e-4
"""A hundredth of a pH that is missed by a ten-thousandth of itself is met."""


def describe(
    program: Program,
    brief: Brief,
    values: Floats,
    *,
    binding: tuple[Binding, ...] = (),
    breaks: tuple[Broken, ...] = (),
) -> Formula:
    """Return a formula as a frozen value with everything that a reader may ask of it.

    Parameters
    ----------
    program : Program
        At the ionic strength at which the formula is to be judged.
    values : ndarray, shape (columns,)
    """
    library, catalogue = program.library, program.catalogue
    amounts = values[: program.size]
    aim = program.aim.value(amounts)
    system = system_of(program, values)
    acidity = acidity_of(program, brief, amounts)
    figures = figures_of(catalogue, brief, amounts, system)
    measured = any(figure.measure == "viscosity" and figure.value is not None for figure in figures)
    return Formula(
        rank=1,
        aim=float("nan") if aim is None else aim,
        cost=catalogue.find("cost").value(amounts) or 0.0,
        currency=library.currency,
        lines=lines_of(library, amounts) if breaks else _printed_lines(program, values),
        figures=figures,
        binding=binding,
        ingredients=ingredients_of(library, amounts),
        label=label_of(brief, library, amounts),
        system=system,
        structure=structure_of(program, values),
        acidity=acidity,
        breaks=breaks,
        notes=(
            *_notes(library, amounts, acidity),
            *_room(program, values),
            *trace_notes(lines_of(library, amounts)),
            *house_notes(library, amounts),
            *(only_for_a_rule(program, values) if brief.targets or brief.include else ()),
            *remarks(brief, library, amounts),
            *(() if measured else body(library, amounts)),
        ),
        slack=slack_of(program, values),
        preferences=preferred_of(program, values),
        aim_with_preferences=aim_with_penalties(program, values) if program.preferences else None,
    )


def outlined(program: Program, values: Floats) -> Formula:
    """Return what stands in a list of a formula: its lines, its structure, its aim and its cost."""
    library, catalogue = program.library, program.catalogue
    amounts = values[: program.size]
    aim = program.aim.value(amounts)
    return Formula(
        rank=1,
        aim=float("nan") if aim is None else aim,
        cost=catalogue.find("cost").value(amounts) or 0.0,
        currency=library.currency,
        lines=lines_of(library, amounts),
        figures=(),
        binding=(),
        ingredients=(),
        system=system_of(program, values),
        structure=structure_of(program, values),
        aim_with_preferences=aim_with_penalties(program, values) if program.preferences else None,
    )


def preferred_of(program: Program, values: Floats) -> tuple[Preferred, ...]:
    """Return the soft wishes with what the formula has, and what falling short costs."""
    return tuple(
        Preferred(
            measure=wish.measure.name,
            side=wish.side,
            wanted=wish.bound,
            value=wish.value(values),
            unit=wish.measure.unit,
            digits=wish.measure.digits,
            worth=wish.worth,
            penalty=wish.penalty(values),
        )
        for wish in program.preferences
    )


def lines_of(library: Library, amounts: Floats) -> tuple[Line, ...]:
    """Return the materials of a formula in working order, largest first within each phase."""
    rows = [(library.materials[i], float(amounts[i])) for i in np.flatnonzero(np.abs(amounts) > ROUNDING)]
    phases = phases_of(material for material, _ in rows)
    rows.sort(key=lambda row: (PHASES.index(phases[row[0].id]), -row[1], row[0].id))
    return tuple(
        Line(m.id, m.name, m.function, phases[m.id], percent, m.price * percent / 100.0)
        for m, percent in rows
    )


def _printed_lines(program: Program, values: Floats) -> tuple[Line, ...]:
    """Return the lines of a formula that breaks nothing, with the figures to print."""
    found, index = printed(program, values), program.library.arrays.material_index
    return tuple(
        replace(
            line,
            printed=found.amounts[index[line.material]],
            places=found.places[index[line.material]],
        )
        for line in lines_of(program.library, values[: program.size])
    )


def figures_of(catalogue: Catalogue, brief: Brief, amounts: Floats, system: str | None) -> tuple[Figure, ...]:
    """Return the measures of a formula: those the brief limits, the library's own, and whatever else is there."""
    own = tuple(column.name for column in catalogue.library.measures)
    wished = (wish.measure for wish in brief.prefer)
    bounded = (name for name, target in brief.targets.items() if target.reading is None)
    asked = (*bounded, brief.aim.measure, *brief.aim.then, *wished)
    names = dict.fromkeys((*asked, *ALWAYS, *own, *_weak_acids(catalogue, system)))
    found = []
    for name in names:
        measure = catalogue.find(name)
        value = measure.value(amounts)
        lacking = measure.lacking(amounts) if value is None else ()
        span = measure.span(amounts) if len(lacking) else None
        if not value and name not in asked and name not in own and span is None:
            continue
        low, high = span or (None, None)
        target = brief.targets.get(name)
        found.append(
            Figure(
                measure=name,
                value=value,
                unit=measure.unit,
                trust=measure.trust,
                digits=measure.digits,
                better=measure.better,
                note=_noted(measure) if span else measure.note,
                parts=_parts(catalogue.library, measure.contributions(amounts)) if value is not None else (),
                at_least=target.at_least if target else None,
                at_most=target.at_most if target else None,
                low=low,
                high=high,
                lacking=tuple(catalogue.library.materials[i].id for i in lacking),
                predicted=_predicted(measure, amounts),
            )
        )
    return tuple(found)


def _predicted(measure: Measure, amounts: Floats) -> Prediction | None:
    """Return where trials put the readings of a formula."""
    found = measure.predicted(amounts, SURE) if isinstance(measure, Learned) else None
    return None if found is None else Prediction(*found[1], *found[0])


def _noted(measure: Measure) -> str:
    """Return what must be said of a measure whose data lack: its own note, and how its range was taken."""
    taken = "" if measure.unknown is None else measure.unknown.note
    return "; ".join(text for text in (measure.note, taken) if text)


def _weak_acids(catalogue: Catalogue, system: str | None) -> list[str]:
    """Return the measures of undissociated acid for the members of the preservative system."""
    library = catalogue.library
    names: list[str] = []
    for candidate in library.systems:
        if candidate.name != system:
            continue
        for member in candidate.members:
            for part in library.composition[member]:
                substance = library.substance[part.inci]
                if substance.pka and part.percent > 0 and substance.charge_acid_form == 0:
                    names.append(f"undissociated:{part.inci}")
    return names


def _parts(library: Library, contributions: Floats) -> tuple[tuple[str, float], ...]:
    """Return who brings how much, the largest part first."""
    order = sorted(
        np.flatnonzero(contributions), key=lambda i: (-abs(contributions[i]), library.materials[i].id)
    )
    return tuple((library.materials[i].id, float(contributions[i])) for i in order)


def ingredients_of(library: Library, amounts: Floats) -> tuple[Ingredient, ...]:
    """Return every substance that is an ingredient, merged over all materials, largest first."""
    arrays = library.arrays
    listed = np.array([part.label != "impurity" for part in library.parts], dtype=float)
    weights = listed * arrays.fraction * amounts[arrays.part_material]
    percent = np.bincount(arrays.part_substance, weights=weights, minlength=len(arrays.substances))
    rows = [Ingredient(arrays.substances[k], float(percent[k])) for k in np.flatnonzero(percent > ROUNDING)]
    return tuple(sorted(rows, key=lambda row: (-row.percent, row.inci)))


def system_of(program: Program, values: Floats) -> str | None:
    """Return the preservative system that was chosen."""
    return next((name for name, column in program.systems.items() if values[column] > 0.5), None)


def structure_of(program: Program, values: Floats) -> tuple[str, ...]:
    """Return what makes the formula different from others: the system's name, and the substances with a role."""
    chosen = [name for name, column in program.systems.items() if column in program.structure]
    system = [name for name in chosen if values[program.systems[name]] > 0.5]
    used = [names for column, names in program.serving.items() if values[column] > 0.5]
    return tuple(dict.fromkeys([*system, *(name for names in used for name in names)]))


def _notes(library: Library, amounts: Floats, acidity: Acidity | None) -> tuple[str, ...]:
    """Return what a reader of this formula must know about its data."""
    found = []
    unknown = [
        library.materials[i].id for i in np.flatnonzero(charge_curves(library).unknown & (amounts > 0))
    ]
    if unknown and acidity is not None:
        found.append(
            f"Counted as neutral in the pH, because the library has no acid-base data for them: {', '.join(unknown)}."
        )
    used = [material for material, amount in zip(library.materials, amounts, strict=True) if amount > 0]
    for word, said in STAND_INS.items():
        names = [
            material.name
            for material in used
            if material.acid_base == word and not charge_stated(library, material.id)
        ]
        if names and acidity is not None:
            found.append(f"{said}: {', '.join(names)}.")
    if acidity is not None and acidity.held:
        found.append(
            f"The ionic strength is above {IONIC_STRENGTH_LIMIT:g} mol/kg; activities were taken at that limit, so the "
            "pH is less sure than its range says."
        )
    return tuple(found)


def _room(program: Program, values: Floats) -> tuple[str, ...]:
    """Say where the pH has less room than a meter and drift deserve."""
    low, high = room_for_pH(program, values)
    if high - low >= ROOM - ROUNDING:
        return ()
    inside = (math.ceil(100.0 * low - NEAR) / 100.0, math.floor(100.0 * high + NEAR) / 100.0)
    told = [number(end) for end in (inside if inside[0] <= inside[1] else (round(low, 4), round(high, 4)))]
    span = f"at pH {told[0]} alone" if told[0] == told[1] else f"from pH {told[0]} to {told[1]}"
    lower = "; ".join(asking_for(program, values, "at_least", low))
    upper = "; ".join(asking_for(program, values, "at_most", high))
    return (
        f"What is in it works together only {span}. What keeps a lower pH out: {lower}. What keeps a higher one "
        f"out: {upper}. A meter and drift in the pack need more room: expect to correct every batch, or replace one "
        "of these.",
    )
