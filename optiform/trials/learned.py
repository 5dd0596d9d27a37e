"""What the trials of one base taught of one measure: a value per 1 % of each material, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from optiform.learning.conjugate import NormalInverseGamma, prior
from optiform.learning.residuals import lack_of_fit, outside, residuals
from optiform.library.models import Library
from optiform.tolerances import ROUNDING
from optiform.trials.expected import Expected, expected
from optiform.trials.models import Bench, Trial, base_of, repeats
from optiform.vectors import Floats

Scale = Literal["identity", "log10"]
Terms = Literal["as-needed", "linear", "quadratic"]
UNITS = {"viscosity": "mPa.s", "feel": "points"}
LOGARITHMIC = ("viscosity",)
NOISE_PART = 0.08
"""Standard deviation of a measure that no line describes, as a part of its mean (common practice, no source)."""

REACH = 2.0
"""Where nothing is expected, each material may move a measure by this many times its spread over the trials."""

ANOTHER_BASE = 3.0
"""What one's own trials of another base say of a thickener is this many times less sure here."""

EARLIER_READINGS = 4.0
"""Readings that the memory of a bench's usual noise is worth."""

CONCENTRATION = "electrolyte"
LEVELS = 3
"""Different amounts of electrolyte from which on a peak within them can be seen: one between two ends."""

LINE_ENDS = 2.0
"""Electrolyte up to which a straight line is meant where one is expected of salt, % w/w: most washes peak by then."""

TELLING_RANGE = 0.4
"""A peak is looked for where formulas or trials differ by more than this much electrolyte, % w/w."""

DOUBTFUL = 0.05
"""Lack of fit asks for a square where its probability by chance is below this."""


@dataclass(frozen=True, eq=False)
class LearnedMeasure:
    """One measure of one base, fitted to trials.

    Attributes
    ----------
    name, unit : str
    scale : str
        "log10" where logarithms are added up (viscosity), else "identity".
    materials : tuple of str
        Ids of the terms; each coefficient is per 1 % w/w of one of them.
    electrolyte : tuple of float
        Where a square is fitted, the electrolyte that 1 % of each material brings [% w/w]; one more coefficient, behind
        those of the materials, belongs to the square of their sum. Empty: linear.
    knowledge, before : NormalInverseGamma
        After the trials and before them.
    base : frozenset of str
        Surfactants and thickeners; the measure holds for no other set of them.
    trials : tuple of Trial
        Those whose readings were used, in their order.
    rows : ndarray, shape (n, p)
        The design matrix.
    readings : ndarray, shape (n,)
        On the scale of the fit.
    known : tuple of bool
        For each material, whether a line of the library says what to expect of it.
    repeats : tuple of int
        For each trial the number of its formula; trials of one number are repeats.
    """

    name: str
    scale: Scale
    materials: tuple[str, ...]
    knowledge: NormalInverseGamma = field(repr=False)
    base: frozenset[str]
    trials: tuple[Trial, ...] = field(default=(), repr=False)
    before: NormalInverseGamma = field(kw_only=True, repr=False)
    rows: Floats = field(kw_only=True, repr=False)
    readings: Floats = field(kw_only=True, repr=False)
    electrolyte: tuple[float, ...] = ()
    unit: str = ""
    known: tuple[bool, ...] = ()
    repeats: tuple[int, ...] = ()

    def row(self, percents: Mapping[str, float]) -> Floats | None:
        """Return the row of a formula, shape (p,); None where it holds a material that was in no trial.

        `percents` maps material ids to % w/w.
        """
        if any(percent > 0 and material not in self.materials for material, percent in percents.items()):
            return None
        return self.design_row(percents)

    def design_row(self, percents: Mapping[str, float]) -> Floats:
        """Return the row of a formula, of which materials that were in no trial are left out, shape (p,)."""
        amounts = np.array([percents.get(material, 0.0) for material in self.materials])
        row: Floats = with_square(amounts[None], self.electrolyte)[0]
        return row

    def read(self, fitted: float) -> float:
        """Return a value on the scale of the fit as a meter shows it."""
        return float(10.0**fitted) if self.scale == "log10" else fitted

    @property
    def terms(self) -> tuple[str, ...]:
        """Return the names of the coefficients."""
        return (*self.materials, "electrolyte squared") if self.electrolyte else self.materials

    def interval(self, percents: Mapping[str, float], sure: float = 0.9) -> tuple[float, float, float] | None:
        """Return what a new trial of a formula will read, from and to, as a meter shows it; None for another base."""
        row = self.row(percents)
        if row is None:
            return None
        low, high = self.knowledge.interval(row, sure)
        return self.read(float(row @ self.knowledge.mean)), self.read(low), self.read(high)


def learned_measures(
    bench: Bench, library: Library, terms: Terms = "as-needed"
) -> tuple[LearnedMeasure, ...]:
    """Return every measure that the readings of a bench taught, base by base."""
    return tuple(
        found
        for base in bench.bases(library)
        for name in bench.measures
        if name != "pH" and (found := learned(bench, library, name, base, terms)) is not None
    )


def learned(
    bench: Bench, library: Library, name: str, base: frozenset[str], terms: Terms = "as-needed"
) -> LearnedMeasure | None:
    """Return what the trials of one base taught of one measure; None where none of them was read.

    Parameters
    ----------
    terms : str
        "quadratic" adds the square of the electrolyte, where the library expects anything of it; "as-needed" does so
        where the trials ask for it.

    Notes
    -----
    Trials that parted count only for the gate "one phase"; censored readings and those of the stability log count
    nowhere here.
    """
    logarithm = name in LOGARITHMIC
    here = [trial for trial in bench.trials if base_of(trial, library) == base and not trial.parted]
    read = [(trial, trial.value(name, logarithm=logarithm)) for trial in here]
    used = tuple(trial for trial, value in read if value is not None)
    if not used:
        return None
    readings, lines = np.array([value for _, value in read if value is not None]), expected(library)
    linear, square = _fitted(used, readings, lines, library, name, base), lines.squared(name)
    if terms == "linear" or square is None:
        return linear
    bent = _bent(linear, square, library)
    return bent if terms == "quadratic" or asks_for_square(linear, bent, library) else linear


def _fitted(
    used: tuple[Trial, ...],
    readings: Floats,
    lines: Expected,
    library: Library,
    name: str,
    base: frozenset[str],
) -> LearnedMeasure:
    """Return the fit of a measure that is linear in the amounts."""
    materials = tuple(m.id for m in library.materials if any(m.id in trial.percents for trial in used))
    rows = np.array([[trial.percents.get(material, 0.0) for material in materials] for trial in used])
    before, known = _before(lines, library, name, base, materials, rows, readings)
    return LearnedMeasure(
        name,
        "log10" if name in LOGARITHMIC else "identity",
        materials,
        before.updated(rows, readings),
        base,
        used,
        before=before,
        rows=rows,
        readings=readings,
        unit=UNITS.get(name, ""),
        known=known,
        repeats=repeats(used, library.water.id),
    )


def _bent(linear: LearnedMeasure, square: tuple[float, float], library: Library) -> LearnedMeasure:
    """Return the fit to the same readings with the square of the electrolyte, of which this is expected, as a term."""
    electrolyte = _electrolyte(library, linear.materials)
    before = _with_square_expected(linear.before, square, electrolyte)
    rows = with_square(linear.rows, electrolyte)
    knowledge = before.updated(rows, linear.readings)
    return replace(linear, knowledge=knowledge, before=before, rows=rows, electrolyte=electrolyte)


def asks_for_square(linear: LearnedMeasure, bent: LearnedMeasure, library: Library) -> bool:
    """Tell whether trials ask for the square: they span enough electrolyte, and hold a peak or leave the line.

    A line is left where the repeats say so (lack of fit), or where a trial lies outside what the others predict.
    """
    levels = linear.rows @ np.array(bent.electrolyte)
    if len(set(np.round(levels, 1))) < LEVELS or float(np.ptp(levels)) <= TELLING_RANGE:
        return False
    lack = lack_of_fit(linear.rows, linear.readings, linear.repeats)
    if lack is not None and lack.p < DOUBTFUL:
        return True
    left = residuals(linear.rows, linear.readings, linear.before, linear.knowledge)
    if bool(outside(left, linear.knowledge).any()):
        return True
    peak = _peak(bent, library)
    return peak is not None and float(levels.min()) < peak < float(levels.max())


def _peak(bent: LearnedMeasure, library: Library) -> float | None:
    """Return the electrolyte beyond which the saltiest material in place of water thins; None where none does."""
    saltiest, mean = int(np.argmax(bent.electrolyte)), bent.knowledge.mean
    brings, bend = bent.electrolyte[saltiest], float(mean[-1])
    if brings <= 0 or bend >= 0:
        return None
    water = mean[bent.materials.index(library.water.id)] if library.water.id in bent.materials else 0.0
    return float((mean[saltiest] - water) / (-2.0 * bend * brings))


@dataclass(frozen=True, eq=False)
class Beforehand:
    """What is known of a measure over given materials before trials are made.

    Attributes
    ----------
    knowledge : NormalInverseGamma
    electrolyte : tuple of float
        As in `LearnedMeasure`: where a peak may be among the formulas, so that trials are chosen that show it.
    anything : bool
        Whether the library or any trial says anything.
    trials : int
        How many trials count.
    """

    knowledge: NormalInverseGamma = field(repr=False)
    electrolyte: tuple[float, ...] = ()
    anything: bool = False
    trials: int = 0


def knowledge_for(
    bench: Bench,
    library: Library,
    name: str,
    base: frozenset[str],
    materials: tuple[str, ...],
    amounts: Floats,
) -> Beforehand:
    """Return what is known of a measure over given materials.

    Parameters
    ----------
    materials : tuple of str
        The terms; trials that hold others do not count.
    amounts : ndarray, shape (c, p)  [% w/w]
        Formulas that may be made: how far each material moves where nothing is expected.
    """
    logarithm, lines = name in LOGARITHMIC, expected(library)
    here = [
        (trial, value)
        for trial in bench.trials
        if base_of(trial, library) == base and not trial.parted and set(trial.percents) <= set(materials)
        if (value := trial.value(name, logarithm=logarithm)) is not None
    ]
    readings = np.array([value for _, value in here])
    if not lines.covers(name) and not here:
        return Beforehand(_wide(amounts, np.zeros(1), 1.0))
    before, _ = _before(lines, library, name, base, materials, amounts, readings if here else np.zeros(1))
    electrolyte, square = _electrolyte(library, materials), lines.squared(name)
    if square is None or float(np.ptp(amounts @ electrolyte)) <= TELLING_RANGE:
        electrolyte = ()
    else:
        before = _with_square_expected(before, square, electrolyte)
    if here:
        rows = [[trial.percents.get(material, 0.0) for material in materials] for trial, _ in here]
        before = before.updated(with_square(np.array(rows), electrolyte), readings)
    return Beforehand(before, electrolyte, True, len(here))


def with_square(amounts: Floats, electrolyte: Sequence[float]) -> Floats:
    """Return rows with the square of their electrolyte as a last column, where one is fitted."""
    if not electrolyte:
        return amounts
    return np.column_stack([amounts, (amounts @ np.array(electrolyte)) ** 2])


def _with_square_expected(
    known: NormalInverseGamma, square: tuple[float, float], electrolyte: Sequence[float]
) -> NormalInverseGamma:
    """Return a prior with a coefficient for the square of the electrolyte, of which value and spread are expected.

    What is expected of a material is the line from nothing to `LINE_ENDS` of electrolyte, whatever the square is: the
    further down it bends, the steeper it starts.
    """
    value, spread = square
    terms, chord = len(known.mean), LINE_ENDS * np.array(electrolyte)
    precision = np.zeros((terms + 1, terms + 1))
    precision[:terms, :terms] = known.precision
    precision[terms, terms] = known.residual_variance / spread**2
    lines = np.eye(terms + 1)
    lines[:terms, terms] = chord
    mean = np.append(known.mean - chord * value, value)
    return NormalInverseGamma(mean, lines.T @ precision @ lines, known.shape, known.rate)


def _electrolyte(library: Library, materials: Sequence[str]) -> tuple[float, ...]:
    arrays = library.arrays
    brings = arrays.per_material(arrays.substance_has_tag(CONCENTRATION).astype(float))
    return tuple(float(brings[arrays.material_index[material]]) for material in materials)


def _before(
    lines: Expected,
    library: Library,
    name: str,
    base: frozenset[str],
    materials: tuple[str, ...],
    amounts: Floats,
    readings: Floats,
) -> tuple[NormalInverseGamma, tuple[bool, ...]]:
    """Return the prior of a measure, and for each material whether a line says what to expect of it."""
    noise = lines.noise(name)
    if noise is None:
        noise = max(NOISE_PART * abs(float(readings.mean())), ROUNDING)
    if not lines.covers(name):
        return _wide(amounts, readings, noise), (False,) * len(materials)
    slopes = ladder_slopes(library, base) if name == "viscosity" else {}
    found = [slopes.get(material) or lines.material(name, material, library) for material in materials]
    values = [(0.0, 1.0) if each is None else each for each in found]
    means, spreads = zip(*values, strict=True)
    return prior(means, spreads, noise, EARLIER_READINGS), tuple(each is not None for each in found)


def _wide(amounts: Floats, readings: Floats, noise: float) -> NormalInverseGamma:
    """Return a prior that expects the mean of the readings of every formula, and is not sure of it at all.

    Each material may move the measure over its largest amount by `REACH` times the spread of the readings.
    """
    reach = REACH * max(float(readings.std()), noise)
    most = np.maximum(amounts.max(axis=0), ROUNDING)
    mean = np.full(amounts.shape[1], float(readings.mean()) / 100.0)
    return prior(mean, reach / most, noise, EARLIER_READINGS)


def ladder_slopes(library: Library, base: frozenset[str]) -> dict[str, tuple[float, float]]:
    """Return what the library's own trials of a thickener say of it: log10 mPa.s per 1 %, and its spread.

    They were made in a base that has a name but no formula, so they count as made in another base. Only the rising
    branch counts: past the peak of salt a line says nothing.
    """
    points: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for trial in library.own_trials:
        if trial.material in base:
            points.setdefault((trial.base, trial.material), []).append(
                (trial.percent, math.log10(trial.mPa_s))
            )
    found: dict[str, tuple[float, float]] = {}
    for (_, material), pairs in points.items():
        percents, logs = np.array(sorted(pairs)).T
        top = int(np.argmax(logs)) + 1
        percents, logs = percents[:top], logs[:top]
        if len(set(percents.tolist())) < 2:
            continue
        (slope, start), about = np.polyfit(percents, logs, 1), percents - percents.mean()
        left = logs - start - slope * percents
        error = math.sqrt(float(left @ left) / max(len(logs) - 2, 1) / float(about @ about))
        spread = ANOTHER_BASE * max(error, 0.1 * abs(float(slope)), ROUNDING)
        if material not in found or spread < found[material][1]:
            found[material] = (float(slope), spread)
    return found
