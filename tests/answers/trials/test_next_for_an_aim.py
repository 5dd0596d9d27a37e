"""The next trial where what a bench taught is the aim: its worth against readings that are drawn."""

import numpy as np
import pytest

from optiform.answers.trials.next_trial import _Question, next_trial
from optiform.search.first_formula import first_listed
from optiform.solver import NO_LIMIT
from optiform.views.words.numbers import figure
from tests.answers.trials.test_learning import GUMS, bench
from tests.answers.trials.test_next_trial import LIBRARY, brief, percents

FOAM = "".join(
    f"{name},foam,{90 - 6 * gum + 2 * (-1) ** name:.1f},20,22\n" for name, gum in enumerate(GUMS, 1)
)
"""Invented: foam falls with the gum, with two points of scatter."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("quay")
    bench(place / "bench", extra=FOAM)
    return place


def foamy(folder, aim="foam", **keys):
    targets = {"viscosity": {"at_least": 800.0}} if aim == "foam" else {"cost": {"at_most": 0.85}}
    return brief(folder, targets=targets, aim={"maximise": aim}, **keys)


@pytest.fixture(scope="module")
def found(folder):
    return next_trial(foamy(folder, worth=0.0))


def test_the_worth_is_the_expected_gain_of_the_best_formula(folder, found):
    """100,000 readings drawn as the trial may give them; after each the best of the list is chosen anew."""
    asked = foamy(folder)
    (foam,) = (one for one in asked.known.taught if one.name == "foam")
    (thick,) = (one for one in asked.known.taught if one.name == "viscosity")
    best = first_listed(asked).polished
    held = {m.id: float(x) for m, x in zip(LIBRARY.materials, best.amounts, strict=False)}
    listed = [one for one, _ in _Question(asked, None, 1, NO_LIMIT)._candidates(held)]

    def row(measure, one):
        return np.array([one.get(name, 0.0) for name in measure.materials])

    holding = [held, *(one for one in listed if 10 ** (thick.knowledge.mean @ row(thick, one)) >= 800.0)]
    assert len(holding) <= len(listed), "some of what can be tried is too thin to be made"
    known, rows = foam.knowledge, np.array([row(foam, one) for one in holding])
    trial = row(foam, percents(found.trials[0]))
    spread = np.sqrt(known.residual_variance * (1.0 + trial @ known.inverse @ trial))
    drawn = np.random.default_rng(3).standard_normal(100_000) * spread
    gain_of = known.inverse @ trial / (1.0 + trial @ known.inverse @ trial)
    largest = np.zeros(len(drawn)) - np.inf
    for mean, slope in zip(rows @ known.mean, rows @ gain_of, strict=True):
        largest = np.maximum(largest, mean + slope * drawn)
    expected = float(largest.mean() - (rows @ known.mean).max())
    assert found.trials[0].gain == pytest.approx(expected, abs=4 * largest.std() / np.sqrt(len(drawn)) + 1e-3)
    assert found.trials[0].gain > 0


def test_gains_fall_and_the_brief_s_worth_stops(folder, found):
    gains = [one.gain for one in found.trials]
    assert gains == sorted(gains, reverse=True) and found.met and not found.stop
    just = gains[0] / found.value
    assert not next_trial(foamy(folder, worth=0.99 * just)).stop
    stopped = next_trial(foamy(folder, worth=min(1.0, 1.01 * just)))
    assert stopped.stop
    assert "Stop: nothing is worth" in stopped.to_text()


def test_a_viscosity_is_told_as_it_is_read(folder):
    found = next_trial(foamy(folder, "viscosity"))
    assert found.unit == "log10 mPa.s"
    text = " ".join(found.to_text().split())
    assert "log10" not in text and f"viscosity {figure(10**found.value, 0)} mPa.s" in text
    assert found.allowance == pytest.approx(np.log10(1.02)), "2 % of the viscosity itself"
