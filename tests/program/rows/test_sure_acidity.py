"""A pH that is held although the free alkali of a surfactant is only known so well."""

import numpy as np
import pytest
from scipy.stats import t as student

from optiform.brief.reading import brief_from
from optiform.faults import BadInput
from optiform.learning.conjugate import NormalInverseGamma
from optiform.measures.acidity import charge_curves
from optiform.measures.conditions import NO_TRIALS, BenchKnowledge
from optiform.measures.learned_alkali import LearnedAlkali
from optiform.search.first_formula import first_of
from tests.builders import tiny_library

SPREAD = 0.001
"""Invented: standard deviation of the glucoside's free alkali  [meq/g]."""

CITRIC = {"inci": "Citric Acid", "pka": (3.13, 4.76, 6.40), "charge_acid_form": 0.0, "molar_mass": 192.1}


def library(alkali=20.0):
    """Return water, an alkaline glucoside and citric acid; pKa values of citric acid from memory."""
    return tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "price": 4.0, "free_alkali": alkali},
            {"id": "citric", "function": "acid", "price": 3.0, "max_use": 2.0},
        ],
        [CITRIC],
        {"citric": {"Citric Acid": 100.0}},
    )


def learned():
    """Return what invented readings of pH taught: the library's alkali, with 10 degrees of freedom."""
    noise = 0.05
    knowledge = NormalInverseGamma(np.zeros(1), np.array([[(noise / SPREAD) ** 2]]), 5.0, 5.0 * noise**2)
    none = np.zeros(0)
    return LearnedAlkali(("glucoside",), knowledge, knowledge, (), np.zeros((0, 1)), none, none)


def wash(known=None, **target):
    mapping = {
        "title": "glucoside wash",
        "law": "none",
        "targets": {"pH": {"at_least": 4.6, "at_most": 5.6, **target}},
        "include": [{"material": "glucoside", "at_least": 10.0}],
    }
    known = BenchKnowledge(alkali=learned()) if known is None else known
    return brief_from(mapping, library(), known=known)


def pH_at(alkali, amounts):
    return charge_curves(library(alkali)).settle(amounts).pH


@pytest.mark.parametrize("sure", [0.8, 0.9, 0.99])
def test_the_window_holds_at_both_ends_of_the_alkali(sure):
    """Least cost doses the least acid, so the charge is just 0 at the upper end where the alkali is at its upper end.

    The pH itself is that of the full balance, whose ionic strength moves with the alkali: a hundredth or two.
    """
    found = first_of(wash(sure=sure))
    half = student.ppf(sure, 10.0) * SPREAD
    curves = charge_curves(library())
    strength = curves.settle(found.amounts).ionic_strength
    charges = {pH: float(curves.at(pH, strength) @ found.amounts) for pH in (4.6, 5.6)}
    more = half * found.amounts[library().arrays.material_index["glucoside"]]
    assert charges[5.6] + more == pytest.approx(0.0, abs=1e-7)
    assert charges[4.6] - more >= -1e-7
    assert pH_at(20.0 + 1000.0 * half, found.amounts) == pytest.approx(5.6, abs=0.02)
    assert pH_at(20.0 - 1000.0 * half, found.amounts) >= 4.6 - 0.02


def test_without_a_margin_the_likeliest_pH_is_just_met():
    found = first_of(wash())
    assert pH_at(20.0, found.amounts) == pytest.approx(5.6, abs=1e-5)
    assert first_of(wash(sure=0.9)).objective > found.objective


def test_a_window_that_the_alkali_is_too_unsure_for_is_refused():
    assert first_of(wash(at_least=5.5)) is not None
    assert first_of(wash(at_least=5.5, sure=0.9)) is None


def test_a_pH_that_no_reading_taught_or_that_the_bench_sets_has_no_margin():
    with pytest.raises(BadInput, match="sure"):
        wash(NO_TRIALS, sure=0.9)
    with pytest.raises(BadInput, match="sure"):
        wash(sure=0.9, set="bench")
