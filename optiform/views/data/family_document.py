"""Defines the JSON document of a family."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from optiform.answers.model.answer import AnswerStatus
from optiform.families import model
from optiform.sheets.purchase.offers import Bought
from optiform.sheets.purchase.shopping import Shopping
from optiform.sheets.sheet import Sheet
from optiform.views.data import shapes
from optiform.views.data.document import Document, Shape
from optiform.views.data.documents import Answer


class Member(Shape):
    """One product, alone and in the family."""

    title: str
    grams: float
    alone: float
    here: float
    within: float | None
    aim: str
    aim_unit: str
    aim_alone: float | None
    aim_here: float | None
    differences: tuple[model.Difference, ...]
    formula: shapes.Formula


class Used(Shape):
    """How much of a material one product has  [% w/w]."""

    product: str
    percent: float


class ShelfMaterial(Shape):
    """One material on the shelf."""

    material: str
    name: str
    function: str
    products: tuple[str, ...]
    percents: tuple[Used, ...]
    packs: tuple[Bought, ...]
    left_over_g: float
    without: tuple[model.CostWithout, ...]


class Neighbour(Shape):
    """The family with one material more or less, and what that saves (negative where it costs)."""

    materials: int
    saves: float
    enters: tuple[str, ...]
    leaves: tuple[str, ...]


class Rates(Shape):
    """Exchange rates into the currency of the library, and their day."""

    on: str
    rates: dict[str, float]


class Fewest(Shape):
    """The fewest materials of which a product can be made by itself."""

    product: str
    materials: int


class Conflict(Shape):
    """Why no family can be made; the answer to a product that cannot be made by itself."""

    taken: ClassVar = {
        "fewest": lambda why: [{"product": title, "materials": count} for title, count in why.fewest]
    }
    product: str
    answer: Answer | None
    ways: tuple[model.FamilyChange, ...]
    fewest: tuple[Fewest, ...]
    collisions: tuple[model.Collision, ...]
    complete: bool


class Family(Document):
    """Several products on one shelf."""

    question: Literal["family"] = "family"
    status: AnswerStatus
    proven: bool
    title: str
    library: str
    currency: str
    rates: Rates | None
    goal: str
    gap: float
    cash: float | None
    consumed: float | None
    money: float | None
    materials: int
    products: tuple[Member, ...]
    shelf: tuple[ShelfMaterial, ...]
    apart: model.Bill | None
    together: model.Bill | None
    here: model.Bill | None
    one_more: tuple[Neighbour, ...]
    one_less: tuple[Neighbour, ...]
    fewest: bool
    curve: tuple[model.CurvePoint, ...]
    limits: tuple[model.PricedLimit, ...]
    base: model.SharedBase | None
    scenarios: tuple[model.ScenarioResult, ...]
    purchase: Shopping | None
    conflict: Conflict | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        lines = {} if value.purchase is None else {line.material: line for line in value.purchase.lines}
        return {
            **super()._of(value),
            "rates": value.plan.quotes,
            "shelf": [_stand(stand, value, lines.get(stand.material)) for stand in value.shelf],
            "one_more": _neighbour(value, value.one_more),
            "one_less": _neighbour(value, value.one_less),
        }


class FamilyBatch(Document):
    """The batch records of a family, that of a shared base first."""

    question: Literal["family batch"] = "family batch"
    title: str
    base: bool
    sheets: tuple[Sheet, ...]


def _stand(stand: model.ShelfMaterial, found: model.Family, line: Any) -> dict[str, Any]:
    """Return a material with its packs and what is left of them."""
    amounts = zip(found.products, stand.percents, strict=True)
    return {
        "material": stand.material,
        "name": stand.name,
        "function": stand.function,
        "products": stand.products,
        "percents": [
            {"product": member.title, "percent": amount} for member, amount in amounts if amount > 0
        ],
        "packs": () if line is None else line.packs,
        "left_over_g": 0.0 if line is None else line.left_g,
        "without": stand.without,
    }


def _neighbour(found: model.Family, point: model.CurvePoint | None) -> list[dict[str, Any]]:
    """Return the family with one material more or less as a list of one, or an empty one."""
    if point is None or found.money is None:
        return []
    saves = found.money - point.money
    told = {"materials": point.at_most, "enters": point.enters, "leaves": point.leaves}
    return [{**told, "saves": saves}]
