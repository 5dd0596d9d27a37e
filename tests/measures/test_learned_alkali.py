"""Free alkali from the pH of trials: a hidden truth is found again, and one trial of one material is a titration."""

import numpy as np
import pytest

from optiform.library.models import Trust
from optiform.measures.acidity import charge_curves
from optiform.measures.learned_alkali import learned_alkali
from optiform.trials.models import Bench, Reading, Trial
from tests.builders import tiny_library

CITRIC = {"inci": "Citric Acid", "pka": (3.128, 4.761, 6.396), "charge_acid_form": 0.0, "strong_charge": 0.0,
          "molar_mass": 192.12}  # fmt: skip


def library(**alkali):
    return tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "free_alkali": alkali.get("glucoside", 90.0),
             "free_alkali_low": 40.0, "free_alkali_high": 200.0},
            {"id": "betaine", "function": "surfactant", "free_alkali": alkali.get("betaine", 0.0)},
            {"id": "acid", "function": "acid"},
        ],
        substances=[CITRIC],
        parts={"acid": {"Citric Acid": 100}},
        trust={"free_alkali": Trust.ESTIMATE},
    )  # fmt: skip


def trials(truth, blends, noise=0.0, seed=1):
    """Return trials whose pH is that of the true library, read with some noise."""
    random, found = np.random.default_rng(seed), []
    for name, (glucoside, betaine, acid) in enumerate(blends):
        held = {
            "water": 100 - glucoside - betaine - acid,
            "glucoside": glucoside,
            "betaine": betaine,
            "acid": acid,
        }
        settled = charge_curves(truth).settle(truth.arrays.amounts(held.items()))
        reading = Reading("pH", settled.pH + noise * random.standard_normal())
        found.append(Trial(str(name), tuple(held.items()), (reading,)))
    return Bench("bench", tuple(found))


BLENDS = [(10, 10, 0.3), (20, 5, 0.5), (15, 15, 0.4), (25, 2, 0.8), (12, 20, 0.3), (18, 8, 0.5)]


def test_a_right_library_is_left_as_it_is():
    found = learned_alkali(trials(library(), BLENDS), library())
    assert found.readings == pytest.approx(0.0, abs=1e-9)
    assert found.knowledge.mean == pytest.approx(0.0, abs=1e-9)
    assert found.alkali(library(), "glucoside")[0] == pytest.approx(90.0)


def test_a_hidden_alkali_is_found_again_and_its_spread_shrinks():
    held, truth = library(), library(glucoside=140.0)
    found = learned_alkali(trials(truth, BLENDS, noise=0.03), held)
    value, low, high = found.alkali(held, "glucoside")
    assert low < 140.0 < high
    assert value == pytest.approx(140.0, abs=6.0)
    assert high - low < 25.0  # 40 to 200 before
    corrected = found.corrected(held).material["glucoside"]
    assert (corrected.free_alkali, corrected.free_alkali_low, corrected.free_alkali_high) == (
        value,
        low,
        high,
    )
    assert found.corrected(held).material["acid"] == held.material["acid"]


def test_one_reading_of_one_material_in_water_is_a_titration():
    """With half the noise of a bench nothing else can carry the charge: the truth is reached within its interval."""
    held, truth = library(), library(glucoside=120.0)
    found = learned_alkali(trials(truth, [(20, 0.001, 0.6)]), held)
    assert found.alkali(held, "glucoside")[0] == pytest.approx(120.0, abs=2.0)
    assert found.knowledge.degrees_of_freedom == 5


def test_the_charge_left_over_is_that_of_the_balance_by_hand():
    """At the computed pH nothing is left; an alkali 10 mmol/kg higher in 20 g leaves 0.2 meq per 100 g."""
    held, truth = library(), library(glucoside=100.0)
    amounts = held.arrays.amounts({"water": 79.5, "glucoside": 20.0, "acid": 0.5}.items())
    settled = charge_curves(truth).settle(amounts)
    charge, buffer_capacity = charge_curves(held).unexplained(amounts, settled.pH)
    assert charge == pytest.approx(0.2, abs=1e-4)
    assert buffer_capacity == pytest.approx(
        settled.buffer_capacity, rel=0.05
    )  # that is taken at one ionic strength


def test_a_bench_without_pH_teaches_no_alkali():
    bench = trials(library(), BLENDS)
    bare = Bench("bench", tuple(Trial(trial.name, trial.lines) for trial in bench.trials))
    assert learned_alkali(bare, library()) is None


def test_a_residual_that_grows_with_pH_is_a_wrong_pka():
    held = library()
    substances = [s.model_copy(update={"pka": (3.1, 4.7, 5.6)}) if s.inci == "Citric Acid" else s
                  for s in held.substances]  # fmt: skip
    truth = held.model_copy(update={"substances": tuple(substances)})
    blends = [(10, 5, acid) for acid in (0.25, 0.4, 0.6, 0.9, 1.2, 1.8)]
    assert learned_alkali(trials(truth, blends), held).wrong_pka
    assert not learned_alkali(trials(held, blends, noise=0.05), held).wrong_pka
