"""Answers as frozen values: everything a view needs, with every digit, and no wording of its own."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from optiform.answers.model.acidity import Acidity, Dose
from optiform.answers.model.conflict import Change, Conflict, Relaxation, Together
from optiform.answers.model.formula import (
    Binding,
    Broken,
    Figure,
    Formula,
    Grade,
    Ingredient,
    Line,
    Prediction,
    Preferred,
    Role,
    Slack,
    SlackState,
)
from optiform.answers.model.why import Takeover, Why
from optiform.showing import Showing

if TYPE_CHECKING:
    import pandas as pd

    from optiform.answers.model.changes import Changes
    from optiform.brief.models import Brief
    from optiform.library.typed.matching import Match
    from optiform.program import Requirement

__all__ = [
    "Acidity", "Answer", "AnswerStatus", "Binding", "Broken", "CertaintyCost", "Change", "Conflict", "Dose", "Figure",
    "Formula", "Grade", "Ingredient", "Leave", "Line", "MarginCost", "Prediction", "Preferred", "Question",
    "Relaxation", "Role", "Slack", "SlackState", "Takeover", "Together", "Why", "Wish",
]  # fmt: skip


Question = Literal["design", "check", "evaluate", "reformulate", "why", "weigh", "lot", "bench"]
AnswerStatus = Literal["solved", "conflict", "stopped"]


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
class CertaintyCost:
    """What it costs that limits hold for every lot, or for a share of the lots.

    Attributes
    ----------
    lots : "all" or float
        For which lots the limits were asked to hold.
    aim_with, aim_without : float, optional  [aim]
        What the best formula comes to with the certainty and at the typical composition; None where that is not known.
    costs : float, optional  [aim]
        How far the two lie apart.
    windows_drawn_in_to : float
        The part of each specification range within which the limits hold for every lot.
    drawn : int
        How many lots were drawn to count in.
    """

    lots: Literal["all"] | float
    aim_with: float | None
    aim_without: float | None
    costs: float | None
    windows_drawn_in_to: float
    drawn: int


@dataclass(frozen=True)
class MarginCost:
    """What it costs that limits hold for the next reading of what a bench taught.

    Attributes
    ----------
    sure : tuple of float
        The probabilities that the brief asks for.
    cost : float  [aim]
        What the best formula is worse by.
    """

    sure: tuple[float, ...]
    cost: float


@dataclass(frozen=True, repr=False)
class Answer(Showing):
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
    margin: MarginCost | None = None
    why: Why | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    matched: tuple[Match, ...] = ()
    certainty: CertaintyCost | None = None

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
