"""The answers about trials, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from optiform.showing import Showing

if TYPE_CHECKING:
    from optiform.learning.residuals import LackOfFit
    from optiform.trials.doubts import Doubt
    from optiform.trials.learned import Scale
    from optiform.trials.models import Reading


@dataclass(frozen=True)
class Amended:
    """A material of which a trial holds another amount than its parent  [% w/w]."""

    material: str
    name: str
    before: float
    after: float


@dataclass(frozen=True)
class ListedTrial:
    """One trial of a bench at a glance.

    Attributes
    ----------
    base : tuple of str
        Names of its surfactants and thickeners.
    amended : tuple of Amended
        Against its parent, or against the trial before it where it has none; empty for the first.
    against : str
        Which trial that is.
    readings : tuple of Reading
        Of the fresh wash; those of the stability log are in `later`.
    doubts : tuple of Doubt
    parted : bool
        It did not stay one phase.
    """

    name: str
    date: str
    block: str
    total_g: float
    base: tuple[str, ...]
    against: str
    amended: tuple[Amended, ...]
    readings: tuple[Reading, ...]
    later: tuple[Reading, ...]
    doubts: tuple[Doubt, ...]
    parted: bool


@dataclass(frozen=True, repr=False)
class TrialList(Showing):
    """The trials of a bench, in the order in which they were weighed.

    Attributes
    ----------
    title : str
        Name of the folder.
    measures : tuple of str
        What was read, numbers first.
    """

    title: str
    library: str
    trials: tuple[ListedTrial, ...]
    measures: tuple[str, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, repr=False)
class TrialAdded(Showing):
    """What was added to a bench: a trial with its readings, or readings of one that stood there.

    Attributes
    ----------
    new : bool
        Whether the trial was weighed now.
    matched : tuple of str
        What typed names were taken for.
    """

    title: str
    library: str
    trial: ListedTrial
    new: bool
    trials: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class LearnedTerm:
    """What trials taught of one material.

    Attributes
    ----------
    prior, prior_sd : float
        Value per 1 % w/w that was expected, and its standard deviation.
    value, low, high : float
        Value per 1 % w/w now, and the middle 90 %.
    from_trials : float
        Which part of the value the trials gave, 0 to 1; the rest is the library's.
    step : float  [% w/w]
        A change of the amount that means something here.
    effect, effect_low, effect_high : float
        What such a step more of it, in place of water, does to the measure: added, or for viscosity a factor.
    varied : bool
        Whether the trials held different amounts of it.
    water : bool
        It is what makes up the difference.
    """

    term: str
    name: str
    prior: float
    prior_sd: float
    value: float
    low: float
    high: float
    from_trials: float
    step: float
    effect: float
    effect_low: float
    effect_high: float
    varied: bool
    water: bool


@dataclass(frozen=True)
class Point:
    """One trial beside the fit.

    Attributes
    ----------
    read, fitted : float
        As a meter shows it.
    low, high : float
        Where the reading of another such wash falls, nine times in ten.
    leverage : float
    outside : bool
        Whether the other trials would not have foretold it, at 95 %.
    """

    trial: str
    read: float
    fitted: float
    low: float
    high: float
    leverage: float
    outside: bool


@dataclass(frozen=True)
class Disagreement:
    """A trial that the library's values did not foretell, and the material whose value moved furthest for it.

    Attributes
    ----------
    read, low, high : float
        What was read, and where it was expected 95 times in a hundred.
    """

    trial: str
    read: float
    low: float
    high: float
    material: str
    name: str


@dataclass(frozen=True)
class LearnedModel:
    """What the trials of one base taught of one measure.

    Attributes
    ----------
    residual_sd : float
        Standard deviation of a trial about the fit; of log10 for viscosity.
    r2, r2_predicted : float, optional
    lack_of_fit : LackOfFit, optional
        None where it cannot be tested: that takes a repeat or two.
    repeats : int
        How many of the trials repeat another one.
    curved : bool
        Whether more electrolyte may pass a peak within these trials, so that `--terms quadratic` is worth a look.
    """

    measure: str
    unit: str
    base: tuple[str, ...]
    base_names: tuple[str, ...]
    scale: Scale
    terms: tuple[LearnedTerm, ...]
    trials: int
    residual_sd: float
    degrees_of_freedom: float
    lack_of_fit: LackOfFit | None
    r2: float | None
    r2_predicted: float | None
    points: tuple[Point, ...]
    disagreements: tuple[Disagreement, ...] = ()
    curved: bool = False
    from_library: bool = True
    repeats: int = 0


@dataclass(frozen=True)
class TaughtAlkali:
    """The free alkali of a material before and after the readings of pH  [mmol/kg]; middle 90 %."""

    material: str
    name: str
    stated: float
    stated_low: float
    stated_high: float
    value: float
    low: float
    high: float
    from_trials: float

    @property
    def beyond(self) -> bool:
        """Tell whether what is known now lies wholly outside what the library states."""
        return self.low > self.stated_high or self.high < self.stated_low


@dataclass(frozen=True)
class Gate:
    """What trials passed or failed; nothing is fitted to it."""

    name: str
    passed: tuple[str, ...]
    failed: tuple[str, ...]


@dataclass(frozen=True, repr=False)
class Learned(Showing):
    """What the trials of a bench taught.

    Attributes
    ----------
    models : tuple of LearnedModel
        One for each measure of each base.
    alkali : tuple of TaughtAlkali
        From the readings of pH, over all bases.
    wrong_pka : bool
        What is left of the readings of pH grows with pH, so that a pKa is off.
    gates : tuple of Gate
    doubts : tuple of Doubt
    """

    title: str
    library: str
    trials: int
    models: tuple[LearnedModel, ...]
    alkali: tuple[TaughtAlkali, ...] = ()
    pH_readings: int = 0
    wrong_pka: bool = False
    gates: tuple[Gate, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    notes: tuple[str, ...] = ()


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
        The middle of the plan, made once in every block: how steady is the bench?
    ends : tuple of (str, str, str)
        Id and name of each material that stands near an end of its range here, and "least" or "most".
    narrows : float, optional
        By which part this trial alone narrows what is foretold of the middle  [0 to 1].
    """

    name: str
    block: int
    repeat: bool
    ends: tuple[tuple[str, str, str], ...]
    lines: tuple[PlannedLine, ...]
    narrows: float


@dataclass(frozen=True)
class Foretold:
    """What is foretold of the middle of a plan: from and to, nine times in ten."""

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
    foretold : Foretold, optional
        None where nothing is expected of the measure yet.
    earlier : int
        Trials of this base that stand in the bench already.
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
    foretold: Foretold | None
    earlier: int
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Narrowed:
    """What a trial does to what is foretold of the best formula, nine times in ten, before it is read."""

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
    """

    lines: tuple[PlannedLine, ...]
    gain: float | None
    meets: bool | None
    narrowed: tuple[Narrowed, ...]


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
