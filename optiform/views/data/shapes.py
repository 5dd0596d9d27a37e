"""Defines the parts that JSON documents share: a formula, its figures and limits, a conflict."""

from __future__ import annotations

import math
from typing import Any, ClassVar, Literal

from optiform.answers.describe.drawn_lots import DoseOverLots
from optiform.answers.describe.sensible_steps import step
from optiform.answers.model.answer import Grade, Ingredient, Preferred, Role, SlackState
from optiform.answers.model.formula import Prediction
from optiform.answers.model.weighing import NotWeighable, Weighable
from optiform.law import IngredientList
from optiform.library.models import Trust
from optiform.program.requirement import Bounded, Key, Origin
from optiform.views.data.document import Shape
from optiform.views.words.conflict_words import given_up

Number = int | float
"""A bound as it was written: a count stays whole."""


class Demand(Shape):
    """A requirement: its title, key, bound and origin."""

    requirement: str
    key: Key
    measure: str | None
    side: Bounded | None
    bound: Number | None
    origin: Origin
    movable: bool
    choice: bool
    why: str
    source: str


class Line(Shape):
    """One material of a formula; whether it can be spared only where that was asked."""

    absent: ClassVar = {"printed": ("printed",), "role": ("role", "instead", "without")}
    material: str
    name: str
    function: str
    phase: str | None
    percent: float
    printed: float | None = None
    low: float | None
    high: float | None
    cost: float
    role: Role | None = None
    instead: tuple[str, ...] = ()
    without: float | None = None


class Figure(Shape):
    """One measure of a formula; a range instead of a value where data lack."""

    taken: ClassVar = {"parts": lambda figure: dict(figure.parts)}
    absent: ClassVar = {"lacking": ("low", "high", "lacking"), "predicted": ("predicted",)}
    value: float | None
    unit: str
    trust: Trust
    digits: int
    better: Literal["higher", "lower"] | None
    at_least: Number | None
    at_most: Number | None
    parts: dict[str, float]
    note: str
    low: float | None = None
    high: float | None = None
    lacking: tuple[str, ...] = ()
    predicted: Prediction | None = None


class Binding(Demand):
    """A limit that holds a formula where it is, and its price."""

    marginal_cost: float | None
    marginal_cost_back: float | None
    unit: str
    holds_from: float | None
    holds_to: float | None
    degenerate: bool


class Broken(Demand):
    """A requirement that is not met."""

    unit: str
    value: float | None
    message: str


class Slack(Shape):
    """The value of a formula beside one limit, and the room to its bounds."""

    taken: ClassVar = {"keys": lambda row: tuple(item.key for item in row.requirements)}
    limit: str
    which: str
    keys: tuple[Key, ...]
    origin: Origin
    value: float
    unit: str
    at_least: Number | None
    at_most: Number | None
    below: float | None
    above: float | None
    state: SlackState


class Part(Shape):
    """The share of the spread of pH that one material causes; the shares add up to 1."""

    material: str
    part: float


class Dose(Shape):
    """Acid or base that sets the pH  [% w/w]."""

    material: str
    percent: float
    low: float
    high: float


class Acidity(Shape):
    """The pH of a formula by the full balance."""

    taken: ClassVar = {
        "spread_from": lambda found: [{"material": name, "part": part} for name, part in found.spread_from]
    }
    pH: float
    low: float
    high: float
    undosed_pH: float | None
    ionic_strength: float
    held: bool
    buffer_capacity: float
    reserve: float
    spread_from: tuple[Part, ...]
    doses: tuple[Dose, ...]
    have_ready: tuple[Dose, ...]


class HeldLots(Shape):
    """In how many of the drawn lots a limit holds, and its range over all lots."""

    requirement: str
    measure: str | None
    side: Bounded | None
    bound: Number | None
    held: int
    value: float | None
    low: float | None
    high: float | None


class Lots(Shape):
    """A formula over the lots of its materials."""

    drawn: int
    seed: int
    distribution: Literal["triangular"] = "triangular"
    materials: tuple[str, ...]
    all_held: int
    limits: tuple[HeldLots, ...]
    doses: tuple[DoseOverLots, ...]
    open_ended: tuple[str, ...]


class Formula(Shape):
    """One formula with its evidence."""

    taken: ClassVar = {
        "measures": lambda formula: {figure.measure: figure for figure in formula.figures},
        "ingredient_list": lambda formula: formula.ingredients,
    }
    absent: ClassVar = {"preferences": ("preferences", "aim_with_preferences"), "lots": ("lots",)}
    rank: int
    aim: float | None
    cost: float
    currency: str
    system: str | None
    structure: tuple[str, ...]
    also: tuple[Grade, ...]
    preferences: tuple[Preferred, ...] = ()
    aim_with_preferences: float | None = None
    lines: tuple[Line, ...]
    measures: dict[str, Figure]
    breaks: tuple[Broken, ...]
    binding: tuple[Binding, ...]
    slack: tuple[Slack, ...]
    acidity: Acidity | None
    ingredient_list: tuple[Ingredient, ...]
    label: IngredientList | None
    weighable: Weighable | None
    allowance: float | None
    not_weighable: NotWeighable | None
    notes: tuple[str, ...]
    lots: Lots | None = None


def moved_to(value: Any) -> Number | None:
    """Return a new bound; the count of a choice is a whole number."""
    to: float | None = value.to
    whole = to is not None and value.requirement.choice and math.isfinite(to) and to == round(to)
    return round(to) if whole and to is not None else to


class Change(Demand):
    """One change that makes a brief possible, with the formula that it leads to."""

    taken: ClassVar = {"to": lambda change: None if given_up(change) else moved_to(change), "drop": given_up}
    absent: ClassVar = {"readmit": ("readmit",), "lines": ("lines",)}
    to: Number | None
    cost: float | None
    drop: bool
    readmit: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()


class Relaxation(Demand):
    """One relaxed requirement of a joint compromise, with the size of its step."""

    taken: ClassVar = {"to": moved_to, "step": lambda part: step(part.requirement)}
    to: Number
    by: float
    step: float


class Reachable(Demand):
    """How far one requirement can be met while the others hold."""

    unit: str
    value: float

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        requirement, reached = value
        return {**super()._of(requirement), "value": reached}


class Together(Shape):
    """Changes that make a brief possible together."""

    changes: tuple[Change, ...]
    cost: float | None
    lines: tuple[Line, ...]


class Conflict(Shape):
    """Requirements that cannot hold together, and the ways out."""

    taken: ClassVar = {"more_conflicts": lambda conflict: conflict.more}
    requirements: tuple[Demand, ...]
    not_movable: tuple[Demand, ...]
    single_changes: tuple[Change, ...]
    compromise: tuple[Relaxation, ...]
    compromise_cost: float | None
    together: Together | None
    best_reachable: tuple[Reachable, ...]
    more_conflicts: tuple[tuple[Demand, ...], ...]
    quick: tuple[str, ...]
    complete: bool


class Wish(Demand):
    """What one limit of the brief costs when the whole formula may change."""

    step: float
    tighter: float
    cost: float | None
    looser: float
    saving: float | None
    free_to: float | None


class Takeover(Shape):
    """The formula that takes over at a price of the material in question."""

    price: float
    aim: float
    lines: tuple[Line, ...]


class Why(Shape):
    """Why a material is, or is not, in the best formula."""

    material: str
    price: float
    currency: str
    percent: float
    best: float
    forced: float | None
    lines: tuple[Line, ...]
    kept_out: tuple[Demand, ...]
    below: Takeover | None
    above: Takeover | None
