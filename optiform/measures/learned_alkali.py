"""Learns the free alkali of materials from the pH that was read of trials: each reading is a titration."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.learning.conjugate import NormalInverseGamma, prior, prior_share, student_t_quantile
from optiform.library.likely import AT_LEAST, alkali_range
from optiform.library.models import Library, Material
from optiform.measures.acidity import charge_curves
from optiform.tolerances import ROUNDING
from optiform.trials.expected import expected
from optiform.trials.models import Bench, Trial
from optiform.vectors import Floats

MIDDLE_90 = 1.6448536269514722
"""Standard deviations from the middle of a normal distribution to its 95th percentile."""

USUAL_NOISE = 0.08
ENOUGH = 0.2
"""A material of whose alkali the trials say less than this part keeps what the library states."""

MMOL_PER_KG = 1000.0
"""meq per g of material in mmol per kg."""


@dataclass(frozen=True, eq=False)
class LearnedAlkali:
    """What readings of pH taught of the free alkali that materials hold beyond what the library states.

    Attributes
    ----------
    materials : tuple of str
        Ids of the terms; each coefficient is meq per g of one of them.
    knowledge, before : NormalInverseGamma
        After the readings and before them; the noise is that of one reading of pH.
    trials : tuple of Trial
    rows : ndarray, shape (n, p)  [pH units per meq/g]
        Amounts over the buffer capacity of each trial.
    readings : ndarray, shape (n,)  [pH]
        The charge that each reading leaves unexplained, over the buffer capacity.
    read : ndarray, shape (n,)  [pH]
    """

    materials: tuple[str, ...]
    knowledge: NormalInverseGamma = field(repr=False)
    before: NormalInverseGamma = field(repr=False)
    trials: tuple[Trial, ...] = field(repr=False)
    rows: Floats = field(repr=False)
    readings: Floats = field(repr=False)
    read: Floats = field(repr=False)

    def alkali(self, library: Library, material: str, sure: float = 0.9) -> tuple[float, float, float]:
        """Return the free alkali of a material, from and to  [mmol/kg]."""
        term, stated = self.materials.index(material), library.material[material].free_alkali
        low, high = self.knowledge.coefficient_interval(term, sure)
        found = float(self.knowledge.mean[term])
        value, least, most = (stated + MMOL_PER_KG * shift for shift in (found, low, high))
        return value, least, most

    @property
    def told(self) -> tuple[str, ...]:
        """Return the materials of whose alkali the readings say enough to count for more than the library's word."""
        shares = 1.0 - prior_share(self.before, self.knowledge)
        return tuple(name for name, share in zip(self.materials, shares, strict=True) if share >= ENOUGH)

    def corrected(self, library: Library) -> Library:
        """Return the library with the free alkali as the readings tell it, and its spread as far as it is known now."""
        changed = frozenset(self.told)

        def learned(material: Material) -> Material:
            if material.id not in changed:
                return material
            value, low, high = self.alkali(library, material.id)
            read = {"free_alkali": value, "free_alkali_low": low, "free_alkali_high": high}
            return material.model_copy(update=read)

        return library.model_copy(update={"materials": tuple(map(learned, library.materials))})

    @property
    def wrong_pka(self) -> bool:
        """Tell whether what is left of the readings grows with pH: then a pKa is off, not an alkali.

        Tested where the readings span a unit of pH, by Student's t at 95 %.
        """
        n = len(self.read)
        if n < 4 or float(np.ptp(self.read)) < 1.0:
            return False
        left = self.readings - self.rows @ self.knowledge.mean
        about = self.read - self.read.mean()
        slope = float(about @ left / (about @ about))
        rest = left - left.mean() - slope * about
        error = float(np.sqrt(rest @ rest / (n - 2) / (about @ about)))
        return abs(slope) > student_t_quantile(0.975, n - 2) * max(error, ROUNDING)


def learned_alkali(bench: Bench, library: Library) -> LearnedAlkali | None:
    """Return what the readings of pH of a bench taught; None where none was read or no alkali is in doubt.

    Notes
    -----
    The charge balance of a formula must be zero at its true pH. At the measured one it leaves a charge e, which is
    what the materials hold beyond the library's word: e = sum of shift times amount. Linear, whatever the pKa.
    """
    used = tuple(trial for trial in bench.trials if trial.value("pH") is not None and not trial.parted)
    if not used:
        return None
    deviations = {
        material.id: _deviation(library, material)
        for material in library.materials
        if any(material.id in trial.percents for trial in used)
    }
    materials = tuple(name for name, deviation in deviations.items() if deviation > 0)
    curves, arrays = charge_curves(library), library.arrays
    rows, readings, read, kept = [], [], [], []
    for trial in used:
        pH = trial.value("pH")
        left = None if pH is None else curves.unexplained(arrays.amounts(trial.percents.items()), pH)
        if left is None or pH is None:
            continue
        charge, buffer_capacity = left
        rows.append([trial.percents.get(name, 0.0) / buffer_capacity for name in materials])
        readings.append(charge / buffer_capacity)
        read.append(pH)
        kept.append(trial)
    if not materials or not kept:
        return None
    noise = expected(library).noise("pH") or USUAL_NOISE
    before = prior(np.zeros(len(materials)), [deviations[name] for name in materials], noise)
    table, missing = np.array(rows), np.array(readings)
    after = before.updated(table, missing)
    return LearnedAlkali(materials, after, before, tuple(kept), table, missing, np.array(read))


def _deviation(library: Library, material: Material) -> float:
    """Return the standard deviation of the free alkali of lots of a material  [meq/g]; 0 where none is in doubt."""
    low, high = alkali_range(library, material)
    half = (high - low) / 2.0
    if half <= 0 and "surfactant" in material.functions:
        half = AT_LEAST
    return half / MIDDLE_90 / MMOL_PER_KG
