"""Defines the JSON documents of answers about formulas."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from optiform.answers.bench.readings import FreeAlkali
from optiform.answers.bench.swapping import Redosed
from optiform.answers.model.answer import AnswerStatus, CertaintyCost, Leave, MarginCost
from optiform.answers.model.changes import Changes
from optiform.library.typed.matching import Match
from optiform.views.data import shapes
from optiform.views.data.document import Document, Shape
from optiform.views.words import sentences


class Aim(Shape):
    """The measure of the aim, and whether it is minimised or maximised."""

    measure: str
    unit: str
    sense: Literal["minimise", "maximise"]


class AskedPH(Shape):
    """The window of pH that was asked for, and whether acid and base are dosed or left to the bench."""

    at_least: float | None
    at_most: float | None
    set: Literal["dosed", "bench"]


class Asked(Shape):
    """What an answer was checked against; a formula read from the document is checked against the same."""

    taken: ClassVar = {
        "on": lambda brief: None if brief.on is None else brief.on.isoformat(),
        "pH": lambda brief: brief.targets.get("pH"),
        "waive": lambda brief: tuple(guard.rule for guard in brief.waive),
    }
    title: str
    library: str
    law: str | None = None
    product: str | None = None
    area: str | None = None
    users: tuple[str, ...] = ()
    on: str | None = None
    pH: AskedPH | None = None
    waive: tuple[str, ...] = ()


class Answer(Document):
    """The answer to a question about formulas."""

    absent: ClassVar = {
        key: (key,)
        for key in ("matched", "wishes", "margin", "why", "baseline", "leave", "changes", "certainty")
    }
    question: Literal["design", "check", "evaluate", "reformulate", "why", "weigh"]
    status: AnswerStatus
    proven: bool
    aim: Aim
    brief: Asked
    formulas: tuple[shapes.Formula, ...]
    conflict: shapes.Conflict | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    matched: tuple[Match, ...] = ()
    wishes: tuple[shapes.Wish, ...] = ()
    margin: MarginCost | None = None
    why: shapes.Why | None = None
    baseline: shapes.Formula | None = None
    leave: Leave | None = None
    changes: Changes | None = None
    certainty: CertaintyCost | None = None

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        brief = value.brief
        stands_on = {} if brief is None else Asked._of(brief)
        sense = "minimise" if brief is None else brief.aim.sense
        return {
            **super()._of(value),
            "aim": {"measure": value.aim, "unit": value.aim_unit, "sense": sense},
            "brief": {**stands_on, "title": value.title, "library": value.library},
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

    absent: ClassVar = {"matched": ("matched",)}
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
    lines: tuple[Amount, ...]
    matched: tuple[Match, ...] = ()
    measures: LotMeasures
    breaks: tuple[Break, ...]
    breaks_uncorrected: tuple[Break, ...]

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        found, matched = value
        breaks = {"breaks": found.broken, "breaks_uncorrected": found.broken_uncorrected}
        told = {"lines": found.corrected.lines, "matched": matched, "measures": found}
        return {**super()._of(found), **breaks, **told, "holds": not found.broken}


class Bench(Document):
    """What a trial taught."""

    absent: ClassVar = {"matched": ("matched",)}
    question: Literal["bench"] = "bench"
    batch_g: float | None
    lines: tuple[Amount, ...]
    matched: tuple[Match, ...] = ()
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
            "matched": value.formula.matched,
            "pH_computed": None if acidity is None else acidity.pH,
            "measures": values_of(last),
            "breaks": last.breaks,
        }


class SwapMeasures(Shape):
    """The measures of a formula before and after a swap."""

    before: Values
    after: Values


class SwapList(Shape):
    """The ingredient list before and after a swap."""

    before: str
    after: str


class Swap(Document):
    """One material in the place of another."""

    question: Literal["swap"] = "swap"
    old: str
    new: str
    what: str
    strength_before: float
    strength_after: float
    before: float
    after: float
    water_before: float
    water_after: float
    dose: Redosed | None
    lines: tuple[Amount, ...]
    matched: tuple[Match, ...]
    measures: SwapMeasures
    ingredient_list: SwapList
    breaks: tuple[Break, ...]
    no_longer_breaks: tuple[Break, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = (sentences.SHORT_CAUTION,)

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        sides = {"before": value.planned, "after": value.swapped}
        return {
            **super()._of(value),
            "lines": amounts(value.formula.lines),
            "matched": value.formula.matched,
            "measures": {side: values_of(formula) for side, formula in sides.items()},
            "ingredient_list": {side: sentences.listed(formula) for side, formula in sides.items()},
            "breaks": value.broken,
            "no_longer_breaks": value.mended,
            "notes": (*value.formula.notes, *value.swapped.notes),
        }
