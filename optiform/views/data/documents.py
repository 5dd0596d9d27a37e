"""The JSON documents of formulas: one model for each question."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Literal

from pydantic import Field

from optiform.answers.bench.readings import FreeAlkali
from optiform.answers.model.answer import AnswerStatus, Leave
from optiform.answers.model.changes import Changes
from optiform.answers.weigh.drops import Drops
from optiform.answers.weigh.weighable import Stock
from optiform.faults import Fault
from optiform.measures import Side
from optiform.program.requirement import Requirement
from optiform.version import __version__
from optiform.views.data import shapes
from optiform.views.data.shapes import Shape
from optiform.views.words import sentences

SCHEMA: Literal[2] = 2
NAMES = {
    "Requirement": Requirement,
    "Fault": Fault,
    "Mapping": Mapping,
    "Stock": Stock,
    "Drops": Drops,
    "Side": Side,
}
"""Names that annotations use and their modules import for type checkers only."""


class Document(Shape):
    """What every document begins with: the program's version, the version of the shapes, the question."""

    optiform: str = __version__
    schema_version: Literal[2] = Field(SCHEMA, alias="schema")
    question: str


class Aim(Shape):
    """What is improved, and whether it is minimised or maximised."""

    measure: str
    unit: str
    sense: Literal["minimise", "maximise"]


class Asked(Shape):
    """What an answer stands on."""

    title: str
    library: str
    law: str | None = None
    product: str | None = None
    area: str | None = None


class Answer(Document):
    """The answer to a question about formulas."""

    absent: ClassVar = {key: (key,) for key in ("wishes", "why", "baseline", "leave", "changes", "details")}
    question: Literal["design", "check", "evaluate", "reformulate", "why", "weigh"]
    status: AnswerStatus
    proven: bool
    aim: Aim
    brief: Asked
    formulas: tuple[shapes.Formula, ...]
    conflict: shapes.Conflict | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    wishes: tuple[shapes.Wish, ...] = ()
    why: shapes.Why | None = None
    baseline: shapes.Formula | None = None
    leave: Leave | None = None
    changes: Changes | None = None
    details: dict[str, Any] = Field(default_factory=dict)

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        brief = value.brief
        stands_on = (
            {} if brief is None else {name: getattr(brief, name) for name in ("law", "product", "area")}
        )
        sense = "minimise" if brief is None else brief.aim.sense
        return {
            **super()._of(value),
            "aim": {"measure": value.aim, "unit": value.aim_unit, "sense": sense},
            "brief": {"title": value.title, "library": value.library, **stands_on},
            "cautions": sentences.cautions(value),
        }


class Amount(Shape):
    """One material and its amount  [% w/w]."""

    material: str
    percent: float


def amounts(lines: tuple[tuple[str, float], ...]) -> tuple[Amount, ...]:
    """Return pairs of material and percent as a document has them."""
    return tuple(Amount(material=material, percent=percent) for material, percent in lines)


class Break(Shape):
    """What a formula breaks, in words."""

    requirement: str
    message: str


Values = dict[str, float | None]


def values_of(formula: Any) -> Values:
    """Return the measures of a formula by name."""
    return {figure.measure: figure.value for figure in formula.figures}


class LotMeasures(Shape):
    """The measures of a formula with its typical lot, and with another one."""

    taken: ClassVar = {
        "planned": lambda found: values_of(found.planned),
        "uncorrected": lambda found: values_of(found.uncorrected),
        "corrected": lambda found: values_of(found.corrected),
    }
    planned: Values
    uncorrected: Values
    corrected: Values


class Lot(Document):
    """A formula corrected for a lot."""

    question: Literal["lot"] = "lot"
    material: str
    what: str
    nominal: float
    measured: float
    before: float
    after: float
    water_before: float
    water_after: float
    batch_g: float | None
    grams_before: float | None
    grams_after: float | None
    holds: bool
    measures: LotMeasures
    breaks: tuple[Break, ...]
    breaks_uncorrected: tuple[Break, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        breaks = {"breaks": value.broken, "breaks_uncorrected": value.broken_uncorrected}
        return {**super()._of(value), **breaks, "holds": not value.broken, "measures": value}


class Bench(Document):
    """What a trial taught."""

    question: Literal["bench"] = "bench"
    batch_g: float | None
    lines: tuple[Amount, ...]
    pH: float | None
    pH_computed: float | None
    free_alkali: tuple[FreeAlkali, ...]
    measures: Values
    breaks: tuple[Break, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        last, acidity = value.corrected or value.now, value.now.acidity
        return {
            **super()._of(value),
            "lines": amounts(value.formula.lines),
            "pH_computed": None if acidity is None else acidity.pH,
            "measures": values_of(last),
            "breaks": last.breaks,
        }
