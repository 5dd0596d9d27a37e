"""Defines the JSON document of a trade-off."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from optiform.answers.model.answer import AnswerStatus
from optiform.answers.tradeoff import front
from optiform.views.data import shapes
from optiform.views.data.document import Document, Shape
from optiform.views.data.documents import Aim, Amount, amounts


class Knot(Shape):
    """One formula on a curve."""

    taken: ClassVar = {"lines": lambda knot: amounts(knot.lines)}
    bound: float
    value: float
    reached: float
    lines: tuple[Amount, ...]


class Stretch(Shape):
    """A part of a curve on which one set of materials is the best."""

    start: Knot
    end: Knot
    jump: float
    price: float
    bracket: float | None
    structure: tuple[str, ...]
    change: front.Change
    entered: tuple[str, ...]
    left: tuple[str, ...]


class Curve(Shape):
    """The best of one measure against the bound on another."""

    third: front.Third | None
    proven: bool
    structures: int
    free: tuple[front.Free, ...]
    knees: tuple[front.Knee, ...]
    here: front.Here | None
    affords: front.Affords | None
    stretches: tuple[Stretch, ...]


class Against(Shape):
    """The bounded measure, and the side of its bound."""

    measure: str
    unit: str
    side: Literal["at_least", "at_most"]


class Titled(Shape):
    """The title of a brief, and its library."""

    title: str
    library: str


class TradeOff(Document):
    """What one measure costs of another."""

    question: Literal["tradeoff"] = "tradeoff"
    status: AnswerStatus
    proven: bool
    aim: Aim
    against: Against
    straight: bool
    brief: Titled
    curves: tuple[Curve, ...]
    conflict: shapes.Conflict | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        return {
            **super()._of(value),
            "aim": {"measure": value.of, "unit": value.of_unit, "sense": value.sense},
            "against": {"measure": value.against, "unit": value.against_unit, "side": value.side},
            "brief": {"title": value.title, "library": value.library},
        }
