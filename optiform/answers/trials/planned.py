"""The answers about trials that are still to be made, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass

from optiform.showing import Showing


@dataclass(frozen=True)
class Varied:
    """A material that trials vary  [% w/w]."""

    material: str
    name: str
    low: float
    high: float


@dataclass(frozen=True)
class PlannedLine:
    """One material of a planned trial."""

    material: str
    name: str
    grams: float
    percent: float


@dataclass(frozen=True)
class PlannedTrial:
    """One trial to make, in whole steps of the balance.

    Attributes
    ----------
    block : int
        The day on which it is made, from 1 on.
    repeat : bool
        Made once in every block: how steady is the bench? The middle of the plan, or the trial nearest to it.
    ends : tuple of (str, str, str)
        Id and name of each material that stands near an end of its range here, and "least" or "most".
    narrows : float, optional
        By which part this trial alone narrows what is predicted of the middle  [0 to 1].
    """

    name: str
    block: int
    repeat: bool
    ends: tuple[tuple[str, str, str], ...]
    lines: tuple[PlannedLine, ...]
    narrows: float


@dataclass(frozen=True)
class Prediction:
    """What is predicted of the middle of a plan: from and to, nine times in ten."""

    value: float
    low: float
    high: float
    after_low: float
    after_high: float


@dataclass(frozen=True, repr=False)
class Planned(Showing):
    """The fewest trials that teach most.

    Attributes
    ----------
    measure, unit : str
        What they are meant to teach.
    brief : str
        Name of the brief's file.
    varied : tuple of Varied
        Materials that may move by more than two steps of the balance.
    kept : tuple of Varied
        Materials that the brief holds where they are.
    trials : tuple of PlannedTrial
        In the order in which they are to be made.
    predicted : Prediction, optional
        None where nothing is expected of the measure yet.
    earlier : int
        Trials of this base that stand in the bench already.
    middle : bool
        Whether repeats are the middle; where the balance cannot weigh that, the trial nearest to it is repeated.
    """

    title: str
    library: str
    brief: str
    measure: str
    unit: str
    batch_g: float
    base: tuple[str, ...]
    varied: tuple[Varied, ...]
    kept: tuple[Varied, ...]
    trials: tuple[PlannedTrial, ...]
    predicted: Prediction | None
    earlier: int
    middle: bool = True
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Narrowed:
    """What a trial does to what is predicted of the best formula, nine times in ten, before it is read."""

    measure: str
    unit: str
    value: float
    low: float
    high: float
    after_low: float
    after_high: float


@dataclass(frozen=True)
class WorthOfTrial:
    """A trial and what it is worth.

    Attributes
    ----------
    gain : float, optional  [aim]
        By how much the best formula then is better; None where the brief cannot be met yet.
    meets : bool, optional
        Where the brief cannot be met yet: whether it can after this trial.
    may_be_best : bool
        It is the best formula if the coefficients are as they were drawn once from what is known.
    """

    lines: tuple[PlannedLine, ...]
    gain: float | None
    meets: bool | None
    narrowed: tuple[Narrowed, ...]
    may_be_best: bool = False


@dataclass(frozen=True)
class Settledness:
    """How the best formula fares where the coefficients are as they may truly be.

    Attributes
    ----------
    draws, met : int
        How often they were drawn, and how often a formula of the same materials holds everything then.
    same : int
        How often the best one holds just these materials.
    low, high : float, optional  [aim]
        Between which values the aim of the best then lies, nine times in ten.
    spared : float, optional  [aim]
        What knowing the coefficients exactly would spare on average, inside what was tried.
    """

    draws: int
    met: int
    same: int
    low: float | None
    high: float | None
    spared: float | None


@dataclass(frozen=True, repr=False)
class NextTrial(Showing):
    """The trial that is worth most, or that no further one is worth making.

    Attributes
    ----------
    met : bool
        Whether a formula holds the brief as surely as asked now.
    value : float, optional  [aim]
        Of the best formula now.
    allowance : float  [aim]
        What is worth a trial: the brief's `worth` of its aim.
    stop : bool
        No trial is worth that.
    trials : tuple of WorthOfTrial
        Best first.
    made : int
        Trials that stand in the bench.
    """

    title: str
    library: str
    aim: str
    unit: str
    met: bool
    value: float | None
    allowance: float
    stop: bool
    trials: tuple[WorthOfTrial, ...]
    settled: Settledness | None
    made: int
    cautions: tuple[str, ...] = ()
