"""Answers as frozen values: everything a view needs, with every digit, and no wording of its own."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from optiform.library.models import Trust

if TYPE_CHECKING:
    import pandas as pd

    from optiform.answers.describe.drawn_lots import LotsDrawn
    from optiform.answers.model.changes import Changes
    from optiform.brief.models import Brief
    from optiform.law import IngredientList
    from optiform.program import Requirement

Question = Literal["design", "check", "evaluate", "reformulate", "why", "weigh", "lot", "bench"]
AnswerStatus = Literal["solved", "conflict", "stopped"]
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
class Dose:
    """Acid or base that sets the pH: the computed amount, and the range that likely lots need [% w/w]."""

    material: str
    percent: float
    low: float
    high: float
    name: str = ""


@dataclass(frozen=True)
class Acidity:
    """The pH of a formula by the full balance, and what to keep ready for it.

    Attributes
    ----------
    pH, ionic_strength : float
        Of the typical lot, at the doses as computed.
    low, high : float
        The pH within which the middle 90 % of likely lots stand at those doses.
    undosed_pH : float, optional
        The pH without the acids and bases that only set it.
    doses : tuple of Dose
        Of each acid and base in the formula, by itself.
    have_ready : tuple of Dose
        An acid, a base, or both that stand beside the formula, because likely lots need them.
    reserve : float  [% w/w]
        Water to hold back for the upper end of the doses, or for what stands ready.
    buffer_capacity : float  [mmol per 100 g per pH unit]
    spread_from : tuple of (material id, part)
        Which materials bring the spread, largest part first; the parts of all add up to 1.
    """

    pH: float
    low: float
    high: float
    ionic_strength: float
    held: bool
    undosed_pH: float | None
    doses: tuple[Dose, ...]
    reserve: float
    buffer_capacity: float
    have_ready: tuple[Dose, ...] = ()
    spread_from: tuple[tuple[str, float], ...] = ()


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
    side : str
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
    material, name : str
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


@dataclass(frozen=True)
class Formula:
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
    weighable: Any = None
    allowance: float | None = None
    slack: tuple[Slack, ...] = ()
    not_weighable: Any = None
    lots: LotsDrawn | None = None
    label: IngredientList | None = None
    also: tuple[Grade, ...] = ()
    preferences: tuple[Preferred, ...] = ()
    aim_with_preferences: float | None = None

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

    def _repr_html_(self) -> str:
        """Show the formula as a table in a notebook."""
        return str(self.materials.to_html())


@dataclass(frozen=True)
class Change:
    """One change of one requirement that makes a brief possible, re-solved as printed.

    `to` is the new bound; `readmit` lists materials or systems for a choice; `drop` says that the
    requirement has to go.
    """

    requirement: Requirement
    to: float | None = None
    readmit: tuple[str, ...] = ()
    drop: bool = False
    cost: float | None = None
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True)
class Together:
    """Changes that make a brief possible together, re-solved as printed: what the best formula then costs and is."""

    changes: tuple[Change, ...]
    cost: float | None
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Wish:
    """What one limit of the brief costs when the whole formula may change.

    Attributes
    ----------
    step : float
        One sensible step of the limit, in its own unit.
    tighter, looser : float
        The bounds one step to each side.
    cost, saving : float, optional  [aim]
        What the best formula is worse by with the tighter bound, and better by with the looser one;
        None where no formula meets it.
    free_to : float, optional
        How far the bound can be tightened at no cost at all; None where it cannot.
    """

    requirement: Requirement
    step: float
    tighter: float
    looser: float
    cost: float | None
    saving: float | None
    free_to: float | None = None


@dataclass(frozen=True)
class Takeover:
    """The formula that takes over at a price, and what it does differently.

    Attributes
    ----------
    price : float  [currency/kg]
        Of the material in question.
    aim : float
        What both formulas come to at that price.
    """

    price: float
    aim: float
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Why:
    """Why a material is, or is not, in the best formula, and what its price has to do with it.

    Attributes
    ----------
    price : float  [currency/kg]
        What it costs now.
    percent : float  [% w/w]
        How much of it the best formula holds; 0 when it is left out.
    best : float  [aim]
        What the best formula comes to.
    forced : float, optional  [aim]
        What the best formula with it (or, for a material that is in, without it) comes to.
    lines : tuple of Line
        That formula.
    kept_out : tuple of Requirement
        What cannot hold together with its use (or, for a material that is in, with its absence).
    below, above : Takeover, optional
        The prices at which another formula takes over; absent where none does down to 0, or however dear.
    """

    material: str
    price: float
    currency: str
    percent: float
    best: float
    forced: float | None = None
    lines: tuple[Line, ...] = ()
    kept_out: tuple[Requirement, ...] = ()
    below: Takeover | None = None
    above: Takeover | None = None


@dataclass(frozen=True)
class Relaxation:
    """One part of a joint compromise."""

    requirement: Requirement
    to: float
    by: float


@dataclass(frozen=True)
class Conflict:
    """Requirements that cannot hold together, and the smallest ways out.

    `more` are conflicts that have nothing to do with the first; `together` settles all of them where
    a compromise of numbers cannot. `complete` is false where the time was over before all was known.
    """

    requirements: tuple[Requirement, ...]
    not_movable: tuple[Requirement, ...] = ()
    single_changes: tuple[Change, ...] = ()
    compromise: tuple[Relaxation, ...] = ()
    compromise_cost: float | None = None
    together: Together | None = None
    best_reachable: tuple[tuple[Requirement, float], ...] = ()
    more: tuple[tuple[Requirement, ...], ...] = ()
    quick: tuple[str, ...] = ()
    complete: bool = True


@dataclass(frozen=True)
class Leave:
    """That a baseline had better stay as it is: the best formula gains less than is worth opening every test again.

    Attributes
    ----------
    saving : float  [aim]
        How much better the best formula is.
    worth : float  [aim]
        From which gain on a new formula is proposed.
    """

    saving: float
    worth: float


@dataclass(frozen=True)
class Answer:
    """What a question returns: formulas with evidence, or a conflict with ways out."""

    question: Question
    status: AnswerStatus
    proven: bool
    brief: Brief | None = field(repr=False)
    aim: str = "cost"
    aim_unit: str = ""
    title: str = ""
    library: str = ""
    formulas: tuple[Formula, ...] = ()
    baseline: Formula | None = None
    changes: Changes | None = None
    leave: Leave | None = None
    conflict: Conflict | None = None
    wishes: tuple[Wish, ...] = ()
    why: Why | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    details: dict[str, Any] = field(default_factory=dict)

    @cached_property
    def ranking(self) -> pd.DataFrame:
        """Return the formulas side by side: materials by rank, % w/w."""
        import pandas as pd

        columns = {
            formula.rank: {line.material: line.percent for line in formula.lines} for formula in self.formulas
        }
        table = pd.DataFrame(columns).fillna(0.0)
        table.index.name, table.columns.name = "material", "rank"
        return table

    def _repr_html_(self) -> str:
        """Show the ranking as a table in a notebook."""
        return str(self.ranking.to_html())
