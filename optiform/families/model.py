"""Defines the answer to a family plan: products, their one shelf, the purchase, and what limits cost."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from optiform.answers.model.answer import Answer, AnswerStatus, Formula
from optiform.families.plan import FamilyPlan, Goal
from optiform.sheets.purchase.shopping import Shopping
from optiform.showing import ShortRepr, Showing

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Difference:
    """One material of a product, alone and in the family  [% w/w]."""

    material: str
    name: str
    alone: float
    here: float


@dataclass(frozen=True, repr=False)
class Member(ShortRepr):
    """One product of a family against the same product designed alone.

    Attributes
    ----------
    grams : float  [g]
        Of all its batches.
    alone, here : float  [currency/kg]
        At the library's prices per kg.
    within : float, optional
        How far its aim may be behind its own best, as a part of that.
    aim, aim_unit : str
        What its brief improves.
    aim_alone, aim_here : float, optional
    formula : Formula
        In the family.
    alone_formula : Formula
    differences : tuple of Difference
        In the order of the library.
    """

    title: str
    grams: float
    alone: float
    here: float
    within: float | None
    aim: str
    aim_unit: str
    aim_alone: float | None
    aim_here: float | None
    formula: Formula
    alone_formula: Formula = field(repr=False)
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True)
class CostWithout:
    """What a product would cost more, made without one material of the shelf  [currency/kg].

    `costs` is None where the rest makes no formula for its brief.
    """

    product: str
    costs: float | None


@dataclass(frozen=True)
class ShelfMaterial:
    """One material on the shelf.

    Attributes
    ----------
    percents : tuple of float  [% w/w]
        In each product, 0 where it does without.
    products : tuple of str
        Which use it.
    without : tuple of CostWithout
        What keeps it here: for each product that uses it.
    """

    material: str
    name: str
    function: str
    percents: tuple[float, ...]
    products: tuple[str, ...]
    without: tuple[CostWithout, ...] = ()


@dataclass(frozen=True)
class Bill:
    """The totals of one way to buy.

    Attributes
    ----------
    cash, consumed : float
        Money out, and what of it goes into the batches.
    left_value : float
        What stands on the shelf afterwards.
    materials : int
        On the shelf, water not counted.
    orders : int
        Suppliers that are ordered from, counted for each product where products buy by themselves.
    """

    cash: float
    consumed: float
    left_value: float
    materials: int
    orders: int


@dataclass(frozen=True)
class CurvePoint:
    """The least money for a shelf of at most so many materials.

    Attributes
    ----------
    money : float
        Of the plan's goal.
    bound : float
        No family on as many materials has less.
    enters, leaves : tuple of str
        Materials that this shelf has and the family's has not, and the other way round.
    costs : tuple of float  [currency/kg]
        Each product, at the library's prices per kg.
    """

    at_most: int
    materials: int
    money: float
    bound: float
    enters: tuple[str, ...]
    leaves: tuple[str, ...]
    costs: tuple[float, ...]
    proven: bool


@dataclass(frozen=True)
class PricedLimit:
    """What one sensible step of a limit costs the whole family, its choices kept; None where they allow no step."""

    product: str
    requirement: str
    step: float
    unit: str
    costs: float | None


@dataclass(frozen=True)
class BaseLine:
    """One material of a shared base: its percent in every product, and its grams in the base."""

    material: str
    name: str
    percent: float
    grams: float


@dataclass(frozen=True)
class FinishedProduct:
    """One product made of the base: grams of the base, and of everything else."""

    product: str
    base_g: float
    lines: tuple[tuple[str, str, float], ...]
    own_base: float | None
    here: float


@dataclass(frozen=True)
class SharedBase:
    """One base that is made once and split.

    Attributes
    ----------
    percent : float  [% w/w]
        What of every product is base, with the water that all have in common.
    lines : tuple of BaseLine
    grams : float  [g]
    finishes : tuple of FinishedProduct
        `own_base` is what the product costs where each has a base of its own [currency/kg], None where not known.
    costs : float, optional
        What one base for all costs the family, in the money of its goal.
    """

    percent: float
    lines: tuple[BaseLine, ...]
    grams: float
    finishes: tuple[FinishedProduct, ...]
    costs: float | None = None


@dataclass(frozen=True)
class ScenarioResult:
    """The family in one scenario; without money where it cannot be made, or the time was over."""

    title: str
    status: AnswerStatus
    cash: float | None = None
    consumed: float | None = None
    materials: int | None = None
    costs: tuple[float, ...] = ()
    enters: tuple[str, ...] = ()
    leaves: tuple[str, ...] = ()
    proven: bool = False


@dataclass(frozen=True)
class FamilyChange:
    """One change that lets a family be made, solved to be sure.

    Attributes
    ----------
    what : str
        ``materials``, ``keep``, ``base``, ``within`` or ``product``.
    to : int, optional
        The number of materials that is enough.
    product : str
        Which product is left out.
    material : str
        Which material need not be kept; empty where none of them does.
    within : float, optional
        How far behind its own best each product has to be allowed at least, as a part of that.
    contents : float, optional
        What all batches then cost at least at the library's prices per kg, where all products are made.
    others, more : int
        Materials of the other products' shelf, and how many the ceiling leaves for the product that is left out.
    collides : tuple of str
        What of that product's brief cannot hold together on such a shelf; where nothing of it does, what of library
        and law.
    """

    what: str
    to: int | None = None
    product: str = ""
    material: str = ""
    within: float | None = None
    contents: float | None = None
    others: int = 0
    more: int = 0
    collides: tuple[str, ...] = ()


@dataclass(frozen=True)
class Collision:
    """The limits of a product's brief that collide with a material that the plan keeps."""

    product: str
    collides: tuple[str, ...]
    material: str


@dataclass(frozen=True)
class FamilyConflict:
    """Why no family meets the plan: one product cannot be made by itself, or all cannot together.

    Attributes
    ----------
    product : str
        The one whose brief cannot be met by itself; empty where each can.
    answer : Answer, optional
        What collides in that brief, and its ways out.
    ways : tuple of FamilyChange
        Changes of the plan, any one of which is enough.
    fewest : tuple of (str, int)
        With how many materials each product can be made by itself, where the plan has a ceiling on them.
    collisions : tuple of Collision
        Why a material that the plan keeps can stand in no product.
    complete : bool
        Whether all ways were tried before the time was over.
    """

    product: str = ""
    answer: Answer | None = field(default=None, repr=False)
    ways: tuple[FamilyChange, ...] = ()
    fewest: tuple[tuple[str, int], ...] = ()
    collisions: tuple[Collision, ...] = ()
    complete: bool = True


@dataclass(frozen=True, repr=False)
class Family(Showing):
    """Several products on one shelf.

    Attributes
    ----------
    goal : str
        What is the least: cash, consumed or materials.
    gap : float
        No family has less of the goal by more than this.
    cash, consumed : float, optional
        Money out for the packs, and what of it goes into the batches.
    money : float, optional
        What the family comes to in the money that its curve, limits and base are told in.
    materials : int
        On the shelf, water not counted.
    purchase : Shopping, optional
        What to buy.
    apart, together, here : Bill, optional
        Each product's own best bought by itself; the same formulas bought together; the family.
    one_more, one_less : CurvePoint, optional
        With one material more or one less; None where that is no question, or the time was over.
    fewest : bool
        Whether it is proven that fewer materials make no family.
    curve : tuple of CurvePoint
        The least money for each number of materials, fewest first, where that was asked for.
    """

    title: str
    status: AnswerStatus
    proven: bool
    goal: Goal
    library: str
    currency: str
    plan: FamilyPlan = field(repr=False)
    gap: float = 0.0
    cash: float | None = None
    consumed: float | None = None
    money: float | None = None
    materials: int = 0
    products: tuple[Member, ...] = ()
    shelf: tuple[ShelfMaterial, ...] = ()
    purchase: Shopping | None = None
    apart: Bill | None = None
    together: Bill | None = None
    here: Bill | None = None
    one_more: CurvePoint | None = None
    one_less: CurvePoint | None = None
    fewest: bool = False
    curve: tuple[CurvePoint, ...] = ()
    limits: tuple[PricedLimit, ...] = ()
    base: SharedBase | None = None
    scenarios: tuple[ScenarioResult, ...] = ()
    conflict: FamilyConflict | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def matrix(self) -> pd.DataFrame:
        """Return the shelf: materials by products, % w/w."""
        import pandas as pd

        table = pd.DataFrame(
            [stand.percents for stand in self.shelf],
            index=[stand.material for stand in self.shelf],
            columns=[member.title for member in self.products],
        )
        table.index.name, table.columns.name = "material", "product"
        return table
