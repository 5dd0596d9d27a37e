"""Benches with a hidden truth, on which the loop of trials is gone through as a maker would; every value is invented.

Viscosity rises with salt to a peak and falls beyond it, and this year's glucoside is more, or less, alkaline than the
library says. A maker sees readings only: the truth with the noise of a bench.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from optiform.answers.trials.listing import record_trial
from optiform.answers.trials.next_trial import next_trial
from optiform.answers.trials.planning import plan_trials
from optiform.brief import Brief, brief_from
from optiform.faults import BadInput
from optiform.learning.conjugate import NormalInverseGamma
from optiform.library.models import Library, Trust
from optiform.measures.acidity import charge_curves
from optiform.measures.conditions import BenchKnowledge
from optiform.search.first_formula import first_listed
from optiform.search.fixed_choices import Polished
from optiform.trials.models import Reading, Trial
from tests.builders import tiny_library
from tests.taught import Lesson

CITRIC = {"inci": "Citric Acid", "pka": (3.128, 4.761, 6.396), "charge_acid_form": 0.0, "strong_charge": 0.0,
          "molar_mass": 192.12}  # fmt: skip
TERMS = ("water", "glucoside", "betaine", "gum", "salt", "acid")
BASE = frozenset({"glucoside", "betaine", "gum"})
ELECTROLYTE = (0.0, 0.0, 0.05, 0.0, 1.0, 0.0)
VISCOSITY, PH = (3000.0, 9000.0), (4.8, 5.6)
NOISE = {"viscosity": 0.07, "pH": 0.05}
"""Standard deviation of one trial, log10 and pH units: a steady bench (common practice, no source)."""

MOST = 9
"""Trials that may be made."""

PLANNED = 4
"""Trials of the first plan."""

PLANNED_IN = {"salt": {"at_most": 2.0}, "gum": {"at_least": 0.6}}
PLANNED_SURFACTANT = 22.0
"""The first trials stay where a cheap wash of this thickness lies: little surfactant, some gum, and salt up to 2 %,
by which most washes peak (common practice, no source)  [% w/w]."""

SURE, SURE_PH = 0.8, 0.98
"""What the maker asks for: of a reading of viscosity with its noise, and of pH without any (acid costs little)."""

SURER, PAYS = (0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95), 0.015
"""At the end: how sure of viscosity, the surest that costs at most this part more than the likeliest formula."""

REACH = {"glucoside": 1.5, "betaine": 1.5, "salt": 0.3}
"""How far the last formula may be from the best as sure as asked  [% w/w]."""


def quay_library(alkali: float = 90.0) -> Library:
    """Return what the quay buys; the free alkali of its glucoside in mmol per kg, known to lie between 40 and 200."""
    return tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "price": 4.0, "free_alkali": alkali,
             "free_alkali_low": 40.0, "free_alkali_high": 200.0},
            {"id": "betaine", "function": "surfactant", "price": 3.0},
            {"id": "gum", "function": "thickener", "price": 14.0},
            {"id": "salt", "function": "salt", "price": 0.5},
            {"id": "acid", "function": "acid", "price": 0.5},
        ],
        substances=[CITRIC, {"inci": "Sodium Chloride", "tags": ("electrolyte",), "charge_acid_form": 0.0,
                             "strong_charge": 0.0}],
        parts={"acid": {"Citric Acid": 20}, "salt": {"Sodium Chloride": 100},
               "betaine": {"Betaine": 35, "Sodium Chloride": 5}},
        trust={"free_alkali": Trust.ESTIMATE},
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Truth:
    """What nobody on the quay knows.

    Attributes
    ----------
    coefficients : ndarray, shape (7,)
        log10 mPa.s per 1 % of each term, and of the square of the electrolyte.
    library : Library
        With the true free alkali.
    """

    coefficients: np.ndarray
    library: Library = field(repr=False)

    def read(self, percents: dict[str, float]) -> tuple[float, float]:
        """Return log10 of viscosity, and pH, without any noise."""
        x = np.array([percents.get(name, 0.0) for name in TERMS])
        settled = charge_curves(self.library).settle(self.library.arrays.amounts(percents.items()))
        return float(self.coefficients @ np.append(x, (x @ ELECTROLYTE) ** 2)), settled.pH

    def met(self, percents: dict[str, float]) -> bool:
        """Tell whether a formula truly holds viscosity and pH."""
        log, pH = self.read(percents)
        low, high = np.log10(VISCOSITY)
        return bool(low - 1e-6 <= log <= high + 1e-6 and PH[0] - 1e-6 <= pH <= PH[1] + 1e-6)

    def cost(self, percents: dict[str, float]) -> float:
        """Return the price of a kilogram."""
        return sum(self.library.material[name].price * part / 100.0 for name, part in percents.items())

    @property
    def least(self) -> float | None:
        """Return the least cost of what truly holds everything, as who knows all finds it; None: there is none."""
        knowledge = NormalInverseGamma(self.coefficients, np.eye(len(self.coefficients)), 10.0, 1e-3)
        lesson = Lesson("viscosity", "log10", knowledge, TERMS, BASE, np.zeros((0, 7)), ELECTROLYTE)
        window = {"at_least": VISCOSITY[0], "at_most": VISCOSITY[1]}
        mapping = asked(viscosity=window, pH={"at_least": PH[0], "at_most": PH[1]})
        brief = brief_from(mapping, self.library, known=BenchKnowledge((lesson,)))
        found = first_listed(brief).polished
        return None if found is None else float(found.objective)


def hidden(seed: int) -> Truth:
    """Draw a truth that some formula meets: a peak at 1.2 to 2.2 % of electrolyte, 60 to 160 mmol of alkali per kg."""
    rng = np.random.default_rng(seed)
    while True:
        bend, peak = rng.uniform(0.25, 0.5), rng.uniform(1.2, 2.2)
        surfactants = rng.normal(0.08, 0.015), rng.normal(0.09, 0.02)
        slopes = [0.0, *surfactants, rng.uniform(0.6, 1.2), 2.0 * bend * peak, 0.0, -bend]
        truth = Truth(np.array(slopes), quay_library(float(rng.uniform(60.0, 160.0))))
        if truth.least is not None:
            return truth


def asked(**targets: object) -> dict[str, Any]:
    """Return the wishes of the quay, on top of which viscosity and pH are asked for."""
    return {
        "title": "Quay wash",
        "law": "none",
        "include": [
            {"material": "glucoside", "at_least": 8.0, "at_most": 14.0},
            {"material": "betaine", "at_least": 8.0, "at_most": 14.0},
            {"material": "gum", "at_least": 0.2, "at_most": 2.0},
            {"material": "salt", "at_least": 0.2, "at_most": 3.0},
            {"material": "acid", "at_least": 0.2, "at_most": 5.0},
        ],
        "weighing": {"batch_g": 200.0, "balance_g": 0.01},
        "targets": {"function:surfactant": {"at_least": 20.0}, **targets},
        "ranked": {"how_many": 1},
    }


@dataclass(eq=False)
class Maker:
    """Somebody who weighs, reads and writes down in a folder; the noise is drawn by a seed."""

    truth: Truth
    folder: Path
    seed: int
    made: int = 0
    random: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        """Start with noise of its own."""
        self.random = np.random.default_rng([self.seed, 1])

    def read(self, percents: dict[str, float]) -> tuple[float, float]:
        """Return what a trial reads: log10 of viscosity, and pH, both with noise."""
        self.made += 1
        log, pH = self.truth.read(percents)
        log += NOISE["viscosity"] * self.random.standard_normal()
        return log, pH + NOISE["pH"] * self.random.standard_normal()

    def make(self, grams: dict[str, float]) -> None:
        """Weigh a trial and write down what is read of it, as a meter shows it."""
        log, pH = self.read({name: 100.0 * part / sum(grams.values()) for name, part in grams.items()})
        readings = (Reading("viscosity", float(f"{10**log:.3g}")), Reading("pH", round(pH, 2)))
        trial = Trial(str(self.made), tuple(grams.items()), readings)
        record_trial(self.folder, LIBRARY, trial, checked=True)


LIBRARY = quay_library()


def closed_loop(truth: Truth, folder: Path, seed: int) -> tuple[dict[str, float], int]:
    """Return the formula that planning, learning and designing with a margin end with, and after how many trials.

    After the plan the maker weighs what may itself be the best, at the end the best formula as sure as asked.
    """
    maker = Maker(truth, folder / "bench", seed)
    start = _planned_in()

    def plan(trials: int) -> None:
        bench = maker.folder if maker.made else None
        for trial in plan_trials(start, trials=trials, bench=bench, seed=seed).trials:
            maker.make({line.material: line.grams for line in trial.lines})

    plan(PLANNED)
    while maker.made < MOST - 1:
        try:
            trials = next_trial(_taught(folder), seed=seed).trials
        except BadInput:  # nothing near the trials reaches the limits: look further
            plan(1)
            continue
        trial = max(trials, key=lambda one: one.may_be_best)
        maker.make({line.material: line.grams for line in trial.lines})
    while maker.made < MOST:
        maker.make({name: round(2.0 * part, 2) for name, part in _best(folder).items()})
    return _as_sure_as_it_pays(folder), maker.made


def _planned_in() -> Brief:
    """Return the brief of the first plan: nobody learned anything of viscosity yet."""
    surfactant = {"at_least": 20.0, "at_most": PLANNED_SURFACTANT}
    targets = {"function:surfactant": surfactant, "pH": {"at_least": PH[0], "at_most": PH[1]}}
    mapping = asked(**targets)
    for wish in mapping["include"]:
        wish.update(PLANNED_IN.get(wish["material"], {}))
    return brief_from(mapping, LIBRARY)


def _best(folder: Path) -> dict[str, float]:
    """Return the formula of the brief as sure as asked, or the likeliest; of what is never so thick, nearly so."""
    found = first_listed(_taught(folder)).polished
    least = VISCOSITY[0]
    while found is None:
        found = first_listed(_taught(folder, None, None, least=least)).polished
        least *= 0.9
    return _held(found)


def _as_sure_as_it_pays(folder: Path) -> dict[str, float]:
    """Return the surest formula near the best one that costs little more than the likeliest there.

    Being sure costs little where gum thickens and much where only surfactant does, so that one probability does not
    suit every brief: what it may cost is what is fixed.
    """
    best = _best(folder)
    likeliest = held = first_listed(_taught(folder, sure=None, around=best)).polished
    if likeliest is None:
        return best
    for sure in SURER:
        found = first_listed(_taught(folder, sure=sure, around=best)).polished
        if found is None or found.objective > (1.0 + PAYS) * likeliest.objective:
            break
        held = found
    return _held(held)


def _held(found: Polished) -> dict[str, float]:
    names = [material.id for material in LIBRARY.materials]
    return {name: float(part) for name, part in zip(names, found.amounts, strict=True) if part > 0}


def _taught(
    folder: Path,
    sure: float | None = SURE,
    sure_pH: float | None = SURE_PH,
    around: dict[str, float] | None = None,
    least: float = VISCOSITY[0],
) -> Brief:
    """Return the brief with what its bench teaches: as sure as asked, near a formula, or for a thinner wash."""
    viscosity = {"at_least": least, "at_most": VISCOSITY[1]} | ({} if sure is None else {"sure": sure})
    pH = {"at_least": PH[0], "at_most": PH[1]} | ({} if sure_pH is None else {"sure": sure_pH})
    mapping = asked(viscosity=viscosity, pH=pH) | {"bench": "bench"}
    for wish in mapping["include"] if around else ():
        here, reach = around[wish["material"]], REACH.get(wish["material"], np.inf)
        wish |= {
            "at_least": max(wish["at_least"], here - reach),
            "at_most": min(wish["at_most"], here + reach),
        }
    return brief_from(mapping, LIBRARY, folder)


def one_at_a_time(truth: Truth, seed: int, most: int = 40) -> tuple[dict[str, float], int]:
    """Return where changing one thing at a time ends, and after how many trials: until what is read holds.

    The cheapest blend of surfactants; acid in steps of 0.1 % until pH holds, salt in steps of 0.3 % until
    viscosity holds or falls, then gum in steps of 0.15 %, then the dearer surfactant in steps of 1 %, and acid
    again (common practice, no source).
    """
    maker, low = Maker(truth, Path(), seed), np.log10(VISCOSITY[0])
    held = {"glucoside": 8.0, "betaine": 12.0, "gum": 0.2, "salt": 0.2, "acid": 0.4}

    def read() -> tuple[float, float]:
        return maker.read({"water": 100.0 - sum(held.values()), **held})

    def dosed(log: float, pH: float) -> float:
        while not PH[0] <= pH <= PH[1] and maker.made < most:
            held["acid"] += 0.1 if pH > PH[1] else -0.1
            log, pH = read()
        return log

    log = dosed(*read())
    while log < low and maker.made < most:
        held["salt"] += 0.3
        thicker, pH = read()
        if thicker < log:
            held["salt"] -= 0.3
            break
        log = thicker
    while maker.made < most:
        log = dosed(log, pH) if log >= low else log
        if log >= low:
            break
        if held["gum"] < 2.0:
            held["gum"] = min(held["gum"] + 0.15, 2.0)
        else:
            held["glucoside"] += 1.0
        log, pH = read()
    return {"water": 100.0 - sum(held.values()), **held}, maker.made
