"""Defines the JSON documents of answers about trials."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from optiform.answers.trials import model, planned
from optiform.trials.doubts import Doubt
from optiform.trials.learned import Scale
from optiform.trials.models import Reading
from optiform.views.data.document import Document, Shape, whole

NAMES = {"Doubt": Doubt, "Scale": Scale, "Reading": Reading}
"""Names that annotations use and their modules import for type checkers only."""


class LackOfFit(Shape):
    """The F test of whether trials miss the fit by more than repeats differ."""

    taken: ClassVar = {"F": lambda lack: lack.ratio}
    F: float
    p: float


class Model(Shape):
    """What the trials of one base taught of one measure; values are per 1 % w/w."""

    measure: str
    unit: str
    base: tuple[str, ...]
    scale: Scale
    terms: tuple[model.LearnedTerm, ...]
    trials: int
    repeats: int
    residual_sd: float
    degrees_of_freedom: float
    lack_of_fit: LackOfFit | None
    r2: float | None
    r2_predicted: float | None
    points: tuple[model.Point, ...]
    disagreements: tuple[model.Disagreement, ...]
    curved: bool
    from_library: bool


class Learned(Document):
    """What the trials of a bench taught."""

    question: Literal["trial learn"] = "trial learn"
    title: str
    library: str
    trials: int
    models: tuple[Model, ...]
    alkali: tuple[model.TaughtAlkali, ...]
    pH_readings: int
    wrong_pka: bool
    gates: tuple[model.Gate, ...]
    doubts: tuple[Doubt, ...] = Field(default=())
    notes: tuple[str, ...]


Learned.model_rebuild(_types_namespace=NAMES)
LISTED = whole("trial list", model.TrialList, NAMES)
ADDED = whole("trial add", model.TrialAdded, NAMES)
PLANNED = whole("trial plan", planned.Planned, NAMES)
FOLLOWING = whole("trial next", planned.NextTrial, NAMES)
