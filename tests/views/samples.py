"""Answers made by hand: the figures are invented and need not add up to a formula that exists."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

from optiform.answers.model.answer import (
    Acidity,
    Answer,
    Binding,
    Broken,
    Change,
    Conflict,
    Dose,
    Figure,
    Formula,
    Ingredient,
    Line,
    Relaxation,
)
from optiform.answers.model.weighing import Drops, NearlyEqual, Weighable, WeighedLine
from optiform.law import LabelEntry, ingredient_list
from optiform.library.models import Trust
from optiform.program.requirement import Key, Requirement

ACTIVE = Requirement(
    key=Key("targets", ("active matter",), "at_least"),
    title="active matter at least 11 % w/w",
    origin="brief",
    measure="active matter",
    side="at_least",
    bound=11.0,
    unit="% w/w",
    label="active matter",
)
MILDNESS = Requirement(
    key=Key("targets", ("mildness",), "at_least"),
    title="mildness at least 75 points",
    origin="brief",
    measure="mildness",
    side="at_least",
    bound=75.0,
    unit="points",
    label="mildness",
)
COST = Requirement(
    key=Key("targets", ("cost",), "at_most"),
    title="cost at most 2.2 EUR/kg",
    origin="brief",
    measure="cost",
    side="at_most",
    bound=2.2,
    unit="EUR/kg",
    label="cost",
)
PH = Requirement(
    key=Key("targets", ("pH",), "at_most"),
    title="pH at most 5.2",
    origin="brief",
    measure="pH",
    side="at_most",
    bound=5.2,
    label="pH",
)
DISPERSANT = Requirement(
    key=Key("library", ("needs", 1), "at_least"),
    title="glycerin per xanthan-gum at least 4 g per g",
    origin="library",
    measure="glycerin per xanthan-gum",
    side="at_least",
    bound=4.0,
    unit="g per g",
    label="glycerin per xanthan-gum",
    movable=False,
    why="xanthan clumps unless it is slurried first",
)
BENZOATE = Requirement(
    key=Key("law", ("EU Annex V/1",)),
    title="benzoic acid and sodium benzoate, as acid, at most 2.5 % w/w (EU Annex V/1)",
    origin="law",
    measure="EU Annex V/1",
    side="at_most",
    bound=2.5,
    unit="% w/w",
    label="benzoic acid and sodium benzoate, as acid",
    movable=False,
)
NO_SULFATE = Requirement(
    key=Key("exclude", (1,)),
    title="no material tagged sulfate",
    origin="brief",
    choice=True,
    subject=("sles-70",),
)
FEW = Requirement(
    key=Key("choose", (1,), "at_most"),
    title="at most 2 surfactants",
    origin="brief",
    measure="number of surfactants",
    side="at_most",
    bound=2.0,
    unit="materials",
    tail="surfactants",
    choice=True,
)
WATER = Line("water", "Purified water", "water", "water", 73.43567693, 0.0367)
BENZOATE_LINE = Line("sodium-benzoate", "Sodium benzoate, granules", "preservative", "water", 0.4, 0.0168)
GUM = Line("xanthan-gum", "Xanthan gum, clear grade", "thickener", "gum", 0.6, 0.096, 0.6, 0.84)
GLYCERIN = Line("glycerin", "Glycerin, plant, 99.5 %", "humectant", "gum", 2.4, 0.0864, 2.4, 3.36)
GLUCOSIDE = Line(
    "decyl-glucoside",
    "Decyl glucoside, 52 %, alkaline grade",
    "surfactant",
    "surfactant",
    10.57692307,
    0.57,
    9.8,
    12.5,
)
BETAINE = Line(
    "betaine-30", "Cocamidopropyl betaine, 30 %", "surfactant", "surfactant", 12.5, 0.425, 11.0, 13.25
)
ACID = Line("citric-acid", "Citric acid, anhydrous", "acid", "adjust", 0.0874, 0.0028)
FIGURES = (
    Figure("active matter", 11.0, "% w/w", Trust.MEMORY, 2, at_least=11.0, at_most=12.0),
    Figure(
        "mildness", 78.6, "points", Trust.ESTIMATE, 0, "higher", "an ordinal index on active matter",
        (("betaine-30", 40.0), ("decyl-glucoside", 38.6)), 75.0,
    ),
    Figure("irritation load", 235.4, "points x % w/w", Trust.ESTIMATE, 0, note="an ordinal index on active matter"),
    Figure("pH", 5.0831, "", Trust.ESTIMATE, 1, at_least=4.9, at_most=5.2),
    Figure("cost", 2.40709, "EUR/kg", Trust.INVENTED, 2, "lower"),
    Figure("viscosity", None, "mPa.s", Trust.INVENTED, 0),
)  # fmt: skip
BINDING = (
    Binding(ACTIVE, 0.172, 0.172, "EUR/kg per % w/w", 10.2, 11.78),
    Binding(MILDNESS, 0.0623, 0.0017, "EUR/kg per point", 75.0, 78.26, degenerate=True),
    Binding(PH, 0.2, None, "EUR/kg per unit", 4.9137, 5.2),
    Binding(DISPERSANT, 0.036, 0.036, "EUR/kg per g per g", 1.0, math.inf),
    Binding(FEW, 0.31, 0.04, "EUR/kg per materials", None, None),
    Binding(BENZOATE, 0.0, 0.0, "EUR/kg per % w/w", 2.5, 2.5),
)
FIRST = Formula(
    rank=1,
    aim=2.40709,
    cost=2.40709,
    currency="EUR",
    lines=(WATER, BENZOATE_LINE, GUM, GLYCERIN, GLUCOSIDE, BETAINE, ACID),
    figures=FIGURES,
    binding=BINDING,
    ingredients=(
        Ingredient("Aqua", 84.9),
        Ingredient("Decyl Glucoside", 5.5),
        Ingredient("Sodium Benzoate", 0.4),
        Ingredient("Citric Acid", 0.0874),
    ),
    system="benzoate with sorbate",
    structure=("benzoate with sorbate", "Decyl Glucoside", "Cocamidopropyl Betaine", "Xanthan Gum"),
    acidity=Acidity(
        pH=5.0831,
        low=4.871,
        high=5.394,
        ionic_strength=0.1512,
        held=False,
        undosed_pH=8.914,
        doses=(Dose("citric-acid", 0.0874, 0.061, 0.124, "Citric acid, anhydrous"),),
        reserve=0.0366,
        buffer_capacity=1.23,
        spread_from=(("decyl-glucoside", 0.93), ("betaine-30", 0.07)),
    ),
    label=ingredient_list(
        [
            LabelEntry(inci="Aqua", percent=84.9),
            LabelEntry(inci="Decyl Glucoside", percent=5.5),
            LabelEntry(inci="Citric Acid", percent=0.0874),
            LabelEntry(inci="Sodium Benzoate", percent=0.4),
            LabelEntry(inci="Linalool", percent=0.0001, kind="incidental"),
        ],
        "EU",
        (),
        "rinse-off",
        date(2026, 7, 1),
    ),
)
SECOND = replace(
    FIRST,
    rank=2,
    aim=2.41,
    cost=2.41,
    lines=(
        replace(WATER, percent=74.0),
        BENZOATE_LINE,
        GUM,
        GLYCERIN,
        Line("coco-glucoside", "Coco-glucoside, 51 %", "surfactant", "surfactant", 10.0, 0.55),
        BETAINE,
    ),
    figures=(replace(FIGURES[1], value=76.0), FIGURES[4]),
    binding=(),
    structure=("benzoate with sorbate", "Coco-Glucoside", "Cocamidopropyl Betaine", "Xanthan Gum"),
    acidity=None,
    notes=("A near-tie: 0.003 EUR/kg from the first, 1 ingredient fewer.",),
)
DESIGN = Answer(
    question="design",
    status="solved",
    proven=True,
    brief=None,
    aim="cost",
    aim_unit="EUR/kg",
    title="Nettle gel wash, oily hair",
    library="Quayside wash-house",
    formulas=(FIRST, SECOND),
    notes=("The ranking is proven at one ionic strength.",),
    cautions=("These are candidates to trial.", "Powders must not be breathed."),
)
CONFLICT = replace(
    DESIGN,
    status="conflict",
    formulas=(),
    notes=(),
    conflict=Conflict(
        requirements=(COST, ACTIVE, NO_SULFATE),
        not_movable=(DISPERSANT,),
        single_changes=(
            Change(COST, to=2.41, cost=2.407, lines=FIRST.lines),
            Change(NO_SULFATE, readmit=("sles-70", "als-27"), cost=2.1),
            Change(FEW, to=3.0, cost=2.19),
            Change(ACTIVE, drop=True),
        ),
        compromise=(Relaxation(COST, 2.3, 0.1), Relaxation(ACTIVE, 10.5, 0.5)),
        compromise_cost=2.298,
        best_reachable=((COST, 2.407),),
        more=((MILDNESS, PH),),
        quick=("The gentlest blend of this library costs 2.3 EUR/kg.",),
    ),
)
STOPPED = replace(DESIGN, status="stopped", proven=False, formulas=(FIRST,))
EMPTY = replace(DESIGN, status="stopped", proven=False, formulas=(), notes=())
EVALUATED = replace(
    DESIGN,
    question="evaluate",
    title="today",
    formulas=(
        replace(
            FIRST,
            binding=(),
            aim=math.nan,
            breaks=(
                Broken(COST, 2.407, "here 2.407 EUR/kg"),
                Broken(DISPERSANT, None, DISPERSANT.why),
            ),
        ),
    ),
)


def _weighed() -> Weighable:
    """Return the first formula in steps of 0.1 g, its water taking what the rounding leaves."""
    grams = {line.material: round(2.5 * line.percent, 1) for line in FIRST.lines}
    grams["water"] = round(grams["water"] + 250.0 - sum(grams.values()), 1)
    lines = []
    for line in FIRST.lines:
        mass = grams[line.material]
        drops = None if line.function != "acid" else Drops(10.0, 10.0 * mass, 9.0 * mass, 200.0 * mass, None)
        lines.append(WeighedLine(line.material, line.name, mass, mass / 2.5, None, drops))
    return Weighable(
        batch_g=250.0,
        balance_g=0.1,
        error_percent=50.0,
        least_g=0.1,
        aim=2.411,
        cost=2.411,
        currency="EUR",
        rounding=0.0039,
        cost_of_rounding=0.0039,
        lines=tuple(lines),
        off=(NearlyEqual(ACTIVE, 11.0, 10.998),),
    )


WEIGHED = replace(DESIGN, formulas=(replace(FIRST, weighable=_weighed()),))
ALL = {
    "design": DESIGN,
    "conflict": CONFLICT,
    "stopped": STOPPED,
    "empty": EMPTY,
    "evaluated": EVALUATED,
    "weighed": WEIGHED,
}
