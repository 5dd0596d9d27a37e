"""What a reformulation changed, as frozen values: every line, measure, substance and property."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optiform.program import Requirement

LineKind = Literal["new", "dropped", "more", "less"]


@dataclass(frozen=True)
class LineChange:
    """One material whose amount differs.

    Attributes
    ----------
    before, after : float  [% w/w]
    cost : float  [currency per kg of formula]
        What the difference in this line adds to the cost of the contents.
    """

    material: str
    name: str
    kind: LineKind
    before: float
    after: float
    cost: float


@dataclass(frozen=True)
class MeasureChange:
    """One measure that differs; None where it is not defined or its data lack."""

    measure: str
    unit: str
    before: float | None
    after: float | None
    digits: int
    better: Literal["higher", "lower"] | None = None


@dataclass(frozen=True)
class SubstanceChange:
    """One substance whose amount differs [% w/w]; traces of making are told as such."""

    inci: str
    before: float
    after: float
    trace: bool = False


@dataclass(frozen=True)
class PropertyChange:
    """Something about the formula that nobody asked for and that differs, in words.

    Attributes
    ----------
    gone, new : tuple of str
        For a set of names: those that were there before alone, and those that are there now alone.
    """

    what: str
    before: str
    after: str
    gone: tuple[str, ...] = ()
    new: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One change of the staircase: a formula of its own that holds everything.

    Attributes
    ----------
    lines : tuple of LineChange
        What this step changes against the one before it.
    aim : float
        The aim once the step is taken.
    saving : float
        How much better the aim gets by it, in its unit; negative for a step that puts right what the
        baseline breaks.
    repairs : bool
        Whether the step is needed before anything holds at all.
    percents : tuple of (material id, % w/w)
        The whole formula after the step.
    """

    lines: tuple[LineChange, ...]
    aim: float
    saving: float
    repairs: bool
    percents: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Bought:
    """How far another limit could be tightened, once a lever is moved, before the aim is worse than the result's."""

    measure: str
    unit: str
    before: float
    to: float
    digits: int


@dataclass(frozen=True)
class Lever:
    """A wish of the brief that would bring more if it moved, solved again as printed.

    Attributes
    ----------
    bound, to : float
        Where it is, and where it was moved.
    saving : float
        How much better the aim gets, in its unit.
    saving_percent : float, optional
        The same in % of the result's aim; None where that is not above 0, and for an ordinal index.
    buys : Bought, optional
        What the saving would pay for; None where the aim is no cost, or it pays for no sensible step of anything.
    """

    requirement: Requirement
    bound: float
    to: float
    aim: float
    saving: float
    saving_percent: float | None
    buys: Bought | None = None


@dataclass(frozen=True)
class Rung:
    """The best formula with at most so many new materials; None where nothing holds everything."""

    at_most_new: int
    aim: float | None
    saving: float | None
    new: tuple[str, ...] = ()
    dropped: tuple[str, ...] = ()
    percents: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Changes:
    """From the baseline to the result.

    Attributes
    ----------
    saving : float, optional
        How much better the aim is, in its unit; None where the baseline has no value of it.
    sliding : float, optional
        The part of the saving that only comes from sliding to the edge of a window: it is lost when
        no bounded measure may come nearer to its bound than it is today. None where nothing holds
        everything that way.
    choices : float, optional
        What is saved without any of that: the saving when nothing comes nearer to its bound.
    amounts : float, optional
        What is saved with today's materials alone, in other amounts. This and `choices` are two ways, which
        overlap: they do not add up to the whole. None where today's materials hold nothing that is asked.
    """

    lines: tuple[LineChange, ...]
    measures: tuple[MeasureChange, ...]
    substances: tuple[SubstanceChange, ...]
    properties: tuple[PropertyChange, ...]
    saving: float | None
    sliding: float | None
    choices: float | None
    amounts: float | None = None
    steps: tuple[Step, ...] = ()
    levers: tuple[Lever, ...] = ()
    ladder: tuple[Rung, ...] = ()
