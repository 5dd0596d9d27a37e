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
        Whether the other trials would not have predicted it, at 95 %.
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
    """A trial that the library's values did not predict, and the material whose value moved furthest for it.

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
        Whether the square of the electrolyte counts, so that viscosity may pass a peak.
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
