"""The JSON documents of trade-offs, sheets, libraries and folders of products."""

from __future__ import annotations

from typing import Any, ClassVar, Literal, get_type_hints

from pydantic import create_model

from optiform.answers.doctor import Diagnosis
from optiform.answers.library.report import LibraryReport
from optiform.answers.model.answer import AnswerStatus
from optiform.answers.recost import Recosting
from optiform.answers.tradeoff import front
from optiform.library import models as library_models
from optiform.library.about import About
from optiform.library.models import Material
from optiform.sheets.purchase.shopping import Shopping
from optiform.sheets.sheet import Sheet
from optiform.views.data import shapes
from optiform.views.data.documents import NAMES, Aim, Amount, Document, amounts
from optiform.views.data.shapes import Shape


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
    """What is bounded, and from which side."""

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


class Sheets(Document):
    """The sheets of a formula; parts that were not asked for are null."""

    question: Literal["sheet"] = "sheet"
    status: Literal["solved"] = "solved"
    sheet: Sheet
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        return {"sheet": value, "notes": value.notes, "cautions": value.cautions}


class Shop(Document):
    """What to buy."""

    question: Literal["shop"] = "shop"
    status: Literal["solved", "stopped"]
    proven: bool
    shopping: Shopping
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        found, cautions = value
        status = "stopped" if found.gap else "solved"
        told = {"notes": found.notes, "cautions": cautions}
        return {"status": status, "proven": not found.gap, "shopping": found, **told}


class LibraryList(Document):
    """Materials of a library."""

    question: Literal["library list"] = "library list"
    library: str
    materials: tuple[Material, ...]


def more_document_of(question: str) -> type[Document]:
    """Return the model of a question's document."""
    stated: dict[str, type[Document]] = {
        "tradeoff": TradeOff, "sheet": Sheets, "shop": Shop, "library list": LibraryList,
    }  # fmt: skip
    whole: dict[str, tuple[type[Any], dict[str, Any]]] = {
        "recost": (Recosting, {}),
        "library check": (LibraryReport, {}),
        "library show": (About, {"library": (str, ...)}),
        "doctor": (Diagnosis, {"healthy": (bool, ...)}),
    }
    return stated[question] if question in stated else _whole(question, *whole[question])


def _whole(question: str, value: type[Any], before: dict[str, Any]) -> type[Document]:
    """Return the model of a document that has the fields of a frozen value as they are, and others before them."""
    types = get_type_hints(value, localns={**vars(library_models), **NAMES})
    fields = {
        "question": (Literal[question], question),
        **before,
        **{name: (kind, ...) for name, kind in types.items()},
    }
    return create_model(value.__name__, __base__=Document, __doc__=value.__doc__, **fields)
