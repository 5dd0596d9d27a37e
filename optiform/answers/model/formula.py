"""One formula with its evidence: lines, figures, limits, pH and what it breaks, with every digit."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from optiform.library.models import Trust
from optiform.showing import Showing

if TYPE_CHECKING:
    import pandas as pd

    from optiform.answers.describe.drawn_lots import LotsDrawn
    from optiform.answers.model.acidity import Acidity
    from optiform.answers.model.weighing import NotWeighable, Weighable
    from optiform.brief.models import Brief
    from optiform.law import IngredientList
    from optiform.program import Requirement


SlackState = Literal["broken", "at the limit", "inside"]
Role = Literal["essential", "optional", "interchangeable"]


@dataclass(frozen=True)
class Line:
    """One material of a formula.

    Attributes
    ----------
    percent : float  [% w/w]
        The exact amount.
    low, high : float, optional  [% w/w]
        How far it may move within an allowance of the best aim, with the same materials; these
        ranges do not hold all at once.
    cost : float  [currency per kg of formula]
        What this amount costs.
    printed : float, optional  [% w/w]
        The amount with few decimals: typed back with the others it holds what the exact one holds.
    places : int
        Decimals of `printed`.
    role : str, optional
        Whether any formula within the allowance does without it: none (essential), one that puts
        another material of its function there (interchangeable), or one that does not (optional).
    instead : tuple of str
        What the best formula without it holds in its place.
    without : float, optional  [aim]
        What the best formula without it comes to; None where there is none, or it was not asked.
    """

    material: str
    name: str
    function: str
    phase: str | None
    percent: float
    cost: float
    low: float | None = None
    high: float | None = None
    printed: float | None = None
    places: int = 2
    role: Role | None = None
    instead: tuple[str, ...] = ()
    without: float | None = None


@dataclass(frozen=True)
class Prediction:
    """Where trials put the readings of a formula, nine times in ten.

    Attributes
    ----------
    low, high : float
        Of the next reading.
    mean_low, mean_high : float
        Of the mean of many readings: what further trials narrow.
    """

    low: float
    high: float
    mean_low: float
    mean_high: float


@dataclass(frozen=True)
class Figure:
    """One measure of a formula.

    Attributes
    ----------
    value : float, optional
        None where the measure is not defined or data lack.
    low, high : float, optional
        Where data lack: between which values it lies, whatever is not known.
    lacking : tuple of str
        Ids of the materials whose data lack.
    parts : tuple of (material id, part)
        Who brings how much of it, largest first.
    at_least, at_most : float, optional
        The brief's own bounds on it.
    predicted : Prediction, optional
        Of a measure that a bench taught.
    """

    measure: str
    value: float | None
    unit: str
    trust: Trust
    digits: int
    better: Literal["higher", "lower"] | None = None
    note: str = ""
    parts: tuple[tuple[str, float], ...] = ()
    at_least: float | None = None
    at_most: float | None = None
    low: float | None = None
    high: float | None = None
    lacking: tuple[str, ...] = ()
    predicted: Prediction | None = None


@dataclass(frozen=True)
class Binding:
    """A requirement that holds the formula where it is, and what moving it would cost.

    Attributes
    ----------
    marginal_cost : float, optional  [unit]
        What tightening by one unit adds to the aim; None where it cannot be tightened at all.
    marginal_cost_back : float, optional  [unit]
        What loosening by one unit saves.
    holds_from, holds_to : float, optional
        Closed interval of bounds, containing the present one, on which `marginal_cost` holds.
    degenerate : bool
        The two costs differ: the optimum has several prices.
    """

    requirement: Requirement
    marginal_cost: float | None
    marginal_cost_back: float | None
    unit: str
    holds_from: float | None
    holds_to: float | None
    degenerate: bool = False


@dataclass(frozen=True)
class Slack:
    """Where a formula stands inside one limit, and how much room is left on each side.

    Attributes
    ----------
    limit : str
        What is limited: "active matter", "humectant".
    requirements : tuple of Requirement
        One, or the two ends of one window.
    value : float  [unit]
    at_least, at_most : float, optional  [unit]
    below, above : float, optional  [unit]
        Room to the lower and the upper bound: 0 at the bound, negative where it is broken, None
        where there is no bound.
    which : str
        Of several things under one limit, the one that comes nearest to it.
    """

    limit: str
    requirements: tuple[Requirement, ...]
    value: float
    unit: str
    digits: int
    at_least: float | None
    at_most: float | None
    below: float | None
    above: float | None
    which: str = ""

    @property
    def origin(self) -> str:
        """Return who asks for it: brief, law or library."""
        return self.requirements[0].origin

    @property
    def room(self) -> float:
        """Return the room on the narrower side; negative where the limit is broken."""
        return min(side for side in (self.below, self.above) if side is not None)

    @property
    def state(self) -> SlackState:
        """Return how the formula stands to the limit."""
        return "broken" if self.room < 0 else "at the limit" if self.room == 0 else "inside"

    @property
    def place(self) -> float:
        """Return where the value stands in its window: 0 at the lower bound, 1 at the upper.

        A window that is open on one side counts as wide as its bound is high; one whose ends are
        equal has its value at 0.5.
        """
        if self.at_least is not None and self.below is not None:
            width = abs(self.at_least) if self.at_most is None else self.at_most - self.at_least
            fixed = 0.0 if width or self.at_most is None else 0.5
            return fixed + self.below / (width or max(1.0, abs(self.value)))
        if self.at_most is None or self.above is None:
            raise ValueError(f"{self.limit}: a limit without a bound")
        return 1.0 - self.above / (abs(self.at_most) or max(1.0, abs(self.value)))


@dataclass(frozen=True)
class Ingredient:
    """One INCI name of a formula with its amount over all materials."""

    inci: str
    percent: float


@dataclass(frozen=True)
class Broken:
    """A requirement that a typed-in formula does not meet."""

    requirement: Requirement
    value: float | None
    message: str


@dataclass(frozen=True)
class Preferred:
    """A soft wish, and what falling short of it costs beside the aim.

    Attributes
    ----------
    wanted : float  [unit]
    value : float, optional  [unit]
        What the formula has; None where the measure is not defined: then nothing is short.
    worth : float  [aim's unit per unit]
    penalty : float  [aim's unit]
        Worth times what is short.
    """

    measure: str
    side: str
    wanted: float
    value: float | None
    unit: str
    digits: int
    worth: float
    penalty: float


@dataclass(frozen=True)
class Grade:
    """Another grade of a substance that a formula is built on, and what the formula comes to with it.

    Attributes
    ----------
    instead_of : str
        The material in whose place it stands.
    percent : float  [% w/w]
        How much of it.
    aim : float
        The aim of the formula with it.
    cost : float  [currency/kg]
    """

    material: str
    name: str
    instead_of: str
    percent: float
    aim: float
    cost: float


@dataclass(frozen=True, repr=False)
class Formula(Showing):
    """One formula with its evidence.

    Attributes
    ----------
    ingredients : tuple of Ingredient
        Every substance that is no impurity, merged over all materials, largest first.
    label : IngredientList, optional
        The list that a label carries, by the rules of the brief's law: incidental substances left
        out, fragrance allergens named, colourants last.
    structure : tuple of str
        What makes it different from others: the substances with a role, and the preservative system.
    also : tuple of Grade
        Other grades of these substances that would do, the best by the aim first.
    preferences : tuple of Preferred
        The soft wishes of the brief.
    aim_with_preferences : float, optional
        The aim with their penalties, by which formulas are ranked; None where there are no soft wishes.
    brief : Brief, optional
        What the formula was made for, where a question at the front door returned it.
    """

    rank: int
    aim: float
    cost: float
    currency: str
    lines: tuple[Line, ...]
    figures: tuple[Figure, ...]
    binding: tuple[Binding, ...]
    ingredients: tuple[Ingredient, ...]
    system: str | None = None
    structure: tuple[str, ...] = ()
    acidity: Acidity | None = None
    breaks: tuple[Broken, ...] = ()
    notes: tuple[str, ...] = ()
    weighable: Weighable | None = None
    allowance: float | None = None
    slack: tuple[Slack, ...] = ()
    not_weighable: NotWeighable | None = None
    lots: LotsDrawn | None = None
    label: IngredientList | None = None
    also: tuple[Grade, ...] = ()
    preferences: tuple[Preferred, ...] = ()
    aim_with_preferences: float | None = None
    brief: Brief | None = field(default=None, repr=False, compare=False)

    @property
    def ranked_by(self) -> float:
        """Return the aim with what falling short of soft wishes costs: what formulas are ranked by."""
        return self.aim if self.aim_with_preferences is None else self.aim_with_preferences

    def figure(self, measure: str) -> Figure:
        """Return one measure of the formula.

        Raises
        ------
        KeyError
            If the formula was not measured for it.
        """
        for figure in self.figures:
            if figure.measure == measure:
                return figure
        raise KeyError(measure)

    @cached_property
    def materials(self) -> pd.DataFrame:
        """Return the materials as a table indexed by id."""
        import pandas as pd

        columns = ("material", "name", "function", "phase", "percent", "cost", "low", "high")
        rows = [{column: getattr(line, column) for column in columns} for line in self.lines]
        return pd.DataFrame(rows, columns=list(columns)).set_index("material")

    @cached_property
    def measures(self) -> pd.DataFrame:
        """Return the measures as a table indexed by name."""
        import pandas as pd

        columns = ["measure", "value", "unit", "trust", "at_least", "at_most"]
        rows = [{column: getattr(figure, column) for column in columns} for figure in self.figures]
        return pd.DataFrame(rows, columns=columns).astype({"trust": str}).set_index("measure")

    @cached_property
    def limits(self) -> pd.DataFrame:
        """Return the binding limits as a table indexed by requirement."""
        import pandas as pd

        columns = ["marginal_cost", "marginal_cost_back", "unit", "holds_from", "holds_to", "degenerate"]
        rows = [
            {"requirement": b.requirement.title, **{c: getattr(b, c) for c in columns}} for b in self.binding
        ]
        return pd.DataFrame(rows, columns=["requirement", *columns]).set_index("requirement")

    @cached_property
    def contributions(self) -> pd.DataFrame:
        """Return who brings how much: materials by measures."""
        import pandas as pd

        table = {figure.measure: dict(figure.parts) for figure in self.figures if figure.parts}
        ids = [line.material for line in self.lines]
        return pd.DataFrame(table, index=pd.Index(ids, name="material")).fillna(0.0)
