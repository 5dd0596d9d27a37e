"""What the trials of a bench taught: values with intervals, what the library still says, what does not fit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.trials.model import (
    Disagreement,
    Gate,
    Learned,
    LearnedModel,
    LearnedTerm,
    Point,
    TaughtAlkali,
)
from optiform.learning.conjugate import prior_share, student_t_quantile
from optiform.learning.residuals import lack_of_fit, outside, residuals
from optiform.library.likely import alkali_range
from optiform.measures.learned_alkali import learned_alkali
from optiform.tolerances import ROUNDING
from optiform.trials.doubts import doubts
from optiform.trials.learned import learned_measures
from optiform.trials.reading import load_bench

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from optiform.library.models import Library
    from optiform.measures.learned_alkali import LearnedAlkali
    from optiform.trials.learned import LearnedMeasure, Terms
    from optiform.trials.models import Bench

    Floats = NDArray[np.float64]

SURE, CONFLICT = 0.9, 0.95
SMALL_STEP, STEP = 0.1, 1.0
"""Steps of an amount in which an effect is told: the small one where a whole per cent would more than double it."""

DOUBLE = math.log10(2.0)


def learn(folder: str | Path, library: Library, measure: str = "", terms: Terms = "as-needed") -> Learned:
    """Return what the trials of a bench folder taught.

    Parameters
    ----------
    measure : str
        Only this one; all of them where it is empty.
    terms : str
        "quadratic" adds the square of the electrolyte to viscosity, "as-needed" where trials ask for it.

    Raises
    ------
    BadInput
        If the folder cannot be used, or nothing was read of the measure.
    """
    bench = load_bench(folder, library)
    if measure:
        _known(bench, measure)
    found = learned_measures(bench, library, terms)
    models = tuple(_told(one, library) for one in found if not measure or one.name == measure)
    alkali = learned_alkali(bench, library) if measure in ("", "pH") else None
    return Learned(
        title=bench.folder,
        library=library.name,
        trials=len(bench.trials),
        models=models,
        alkali=() if alkali is None else _alkali(alkali, library),
        pH_readings=0 if alkali is None else len(alkali.trials),
        wrong_pka=alkali is not None and alkali.wrong_pka,
        gates=tuple(_gate(bench, name) for name in bench.gates if not measure or name == measure),
        doubts=tuple(doubt for doubt in doubts(bench, library) if measure in ("", doubt.reading.measure)),
        notes=bench.notes,
    )


def _known(bench: Bench, measure: str) -> None:
    from optiform.faults import BadInput, Fault, nearest

    read = (*bench.measures, *bench.gates)
    if measure not in read:
        message = f"nothing was read of '{measure}'"
        allowed = ", ".join(read) or "a bench with readings"
        raise BadInput([Fault(bench.folder, "--measure", message, allowed, nearest(measure, read))])


def _gate(bench: Bench, name: str) -> Gate:
    read = [(trial.name, trial.passed(name)) for trial in bench.trials]
    return Gate(
        name,
        tuple(trial for trial, passed in read if passed),
        tuple(trial for trial, passed in read if passed is False),
    )


def _told(found: LearnedMeasure, library: Library) -> LearnedModel:
    after = found.knowledge
    left = residuals(found.rows, found.readings, found.before, after)
    odd = outside(left, after)
    points = []
    for trial, row, reading, stands_out in zip(found.trials, found.rows, found.readings, odd, strict=True):
        low, high = after.interval(row, SURE)
        points.append(
            Point(
                trial.name,
                found.read(float(reading)),
                found.read(float(row @ after.mean)),
                found.read(low),
                found.read(high),
                after.leverage(row),
                bool(stands_out),
            )
        )
    names = {material.id: material.name for material in library.materials}
    order = [material.id for material in library.materials if material.id in found.base]
    return LearnedModel(
        measure=found.name,
        unit=found.unit,
        base=tuple(order),
        base_names=tuple(names[name] for name in order),
        scale=found.scale,
        terms=_terms(found, library, names),
        trials=len(found.trials),
        residual_sd=math.sqrt(after.residual_variance),
        degrees_of_freedom=after.degrees_of_freedom,
        lack_of_fit=lack_of_fit(found.rows, found.readings, found.repeats),
        r2=left.r2,
        r2_predicted=left.r2_predicted,
        points=tuple(points),
        disagreements=_disagreements(found, names),
        curved=bool(found.electrolyte),
        from_library=any(found.known),
        repeats=len(found.repeats) - len(set(found.repeats)),
    )


def _terms(found: LearnedMeasure, library: Library, names: dict[str, str]) -> tuple[LearnedTerm, ...]:
    after, before = found.knowledge, found.before
    share = prior_share(before, after)
    deviations = np.sqrt(before.residual_variance * np.diag(before.inverse))
    water = found.materials.index(library.water.id) if library.water.id in found.materials else None
    half = student_t_quantile((1.0 + SURE) / 2.0, after.degrees_of_freedom)
    terms = []
    for i, name in enumerate(found.terms):
        low, high = after.coefficient_interval(i, SURE)
        contrast = np.zeros(len(found.terms))
        contrast[i] = 1.0
        if water is not None and i != water and name in names:
            contrast[water] = -1.0
        change = float(contrast @ after.mean)
        off = half * math.sqrt(float(contrast @ after.covariance @ contrast))
        step = SMALL_STEP if found.scale == "log10" and abs(change) > DOUBLE else STEP
        effect, least, most = ((change + side) * step for side in (0.0, -off, off))
        if found.scale == "log10":
            effect, least, most = 10.0**effect, 10.0**least, 10.0**most
        terms.append(
            LearnedTerm(
                term=name,
                name=names.get(name, name),
                prior=float(before.mean[i]),
                prior_sd=float(deviations[i]),
                value=float(after.mean[i]),
                low=low,
                high=high,
                from_trials=1.0 - float(share[i]),
                step=step,
                effect=effect,
                effect_low=least,
                effect_high=most,
                water=i == water,
                varied=bool(np.ptp(found.rows[:, i]) > SMALL_STEP / 10.0),
            )
        )
    return tuple(terms)


def _disagreements(found: LearnedMeasure, names: dict[str, str]) -> tuple[Disagreement, ...]:
    """Return the trials that were not predicted when they were made, each by the library and the trials before it."""
    known, told = found.before, []
    deviations = np.sqrt(found.before.residual_variance * np.diag(found.before.inverse))
    for trial, row, reading in zip(found.trials, found.rows, found.readings, strict=True):
        low, high = known.interval(row, CONFLICT)
        known = known.updated(row[None], np.array([reading]))
        if low <= reading <= high:
            continue
        moved = (
            np.abs(known.mean - found.before.mean)[: len(found.materials)]
            / deviations[: len(found.materials)]
        )
        material = found.materials[int(np.argmax(np.where(row[: len(moved)] > 0, moved, -1.0)))]
        ends = (found.read(float(reading)), found.read(low), found.read(high))
        told.append(Disagreement(trial.name, *ends, material, names[material]))
    return tuple(told)


def _alkali(found: LearnedAlkali, library: Library) -> tuple[TaughtAlkali, ...]:
    share = prior_share(found.before, found.knowledge)
    told = []
    for i, name in enumerate(found.materials):
        material = library.material[name]
        low, high = alkali_range(library, material)
        value, least, most = found.alkali(library, name, SURE)
        if float(np.abs(found.rows[:, i]).max()) < ROUNDING:
            continue
        told.append(
            TaughtAlkali(
                name,
                material.name,
                material.free_alkali,
                low,
                high,
                value,
                least,
                most,
                1.0 - float(share[i]),
            )
        )
    return tuple(told)
