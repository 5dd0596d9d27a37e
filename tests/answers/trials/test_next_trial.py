"""The next trial: its worth is that of designing again, its narrowing the closed form, and stop is an answer."""

import json
from dataclasses import replace

import numpy as np
import pytest

from optiform.answers.evaluate import evaluate
from optiform.answers.trials import settled
from optiform.answers.trials.next_trial import next_trial
from optiform.brief import brief_from
from optiform.faults import BadInput
from optiform.learning.worth import leverage_after
from optiform.library.formulas import TypedFormula
from optiform.search.first_formula import first_listed
from tests.answers.trials.test_learning import bench
from tests.trials.benches import wash_house

LIBRARY = wash_house()
INCLUDED = [
    {"material": "glucoside", "at_least": 10.0, "at_most": 14.0},
    {"material": "betaine", "at_least": 3.0, "at_most": 5.0},
    {"material": "gum", "at_least": 0.4, "at_most": 1.6},
]


def brief(folder, sure=0.9, **keys):
    mapping = {
        "title": "Quay wash",
        "law": "none",
        "bench": "bench",
        "include": INCLUDED,
        "targets": {"viscosity": {"at_least": 2000, "sure": sure}},
        **keys,
    }
    return brief_from(mapping, LIBRARY, folder)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("quay")
    bench(place / "bench")
    return place


@pytest.fixture(scope="module")
def found(folder):
    return next_trial(brief(folder))


def percents(one):
    return {line.material: line.percent for line in one.lines}


def test_the_best_trial_is_worth_something_and_stands_first(found):
    gains = [one.gain for one in found.trials]
    assert found.met and gains == sorted(gains, reverse=True)
    assert gains[0] > 0


def test_what_is_predicted_narrows_as_the_closed_form_says(folder, found):
    asked = brief(folder)
    (measure,) = asked.known.taught
    polished = first_listed(asked).polished
    index = LIBRARY.arrays.material_index
    here = np.array([polished.amounts[index[name]] for name in measure.materials])
    trial = np.array([percents(found.trials[0]).get(name, 0.0) for name in measure.materials])
    before = measure.knowledge.leverage(here)
    assert leverage_after(measure.knowledge, here, trial) < before
    (narrowed,) = found.trials[0].narrowed
    assert narrowed.value == pytest.approx(10 ** (here @ measure.knowledge.mean))
    read = measure.knowledge.updated(trial[None], np.array([trial @ measure.knowledge.mean]))
    low, high = read.interval(here)
    assert (narrowed.after_low, narrowed.after_high) == pytest.approx((10**low, 10**high))
    assert narrowed.low < narrowed.after_low < narrowed.after_high < narrowed.high


def test_a_trial_holds_all_that_no_trial_taught_and_stands_on_the_balance(folder, found):
    bare = brief_from({"title": "x", "law": "none", "include": INCLUDED}, LIBRARY)
    for one in found.trials:
        typed = TypedFormula("trial", tuple(percents(one).items()), 100.0)
        assert not evaluate(typed, LIBRARY, bare).formulas[0].breaks
        assert all(abs(line.grams * 100 - round(line.grams * 100)) < 1e-6 for line in one.lines)


def test_one_trial_is_what_may_itself_be_best(folder, found, monkeypatch):
    """Where the coefficients are known for certain, every draw is the truth: what costs least at 2000."""
    assert [one.may_be_best for one in found.trials].count(True) == 1
    monkeypatch.setattr(settled, "DRAWS", 2)
    asked = brief(folder)
    (measure,) = asked.known.taught
    certain = replace(measure.knowledge, precision=1e10 * measure.knowledge.precision)
    known = replace(asked.known, taught=(replace(measure, knowledge=certain),))
    asked = asked.model_copy(update={"known": known})
    likely = {"viscosity": {"at_least": 2000, "tried": "beyond"}}
    best = first_listed(brief(folder, targets=likely)).polished
    trial = next(one for one in next_trial(asked).trials if one.may_be_best)
    cost = sum(LIBRARY.material[name].price * part / 100.0 for name, part in percents(trial).items())
    assert cost == pytest.approx(best.objective, rel=0.002)
    row = np.array([percents(trial).get(name, 0.0) for name in measure.materials])
    assert 10 ** (row @ measure.knowledge.mean) == pytest.approx(2000.0, rel=0.01)


def test_a_trial_that_is_worth_less_than_reopens_a_formula_ends_the_work(folder):
    found = next_trial(brief(folder, worth=0.9))
    assert found.stop
    assert "further trials change nothing" in found.to_text()


def test_what_may_be_true_is_drawn_two_hundred_times(folder, found):
    """One base has one structure: it is kept in every draw that can be met. Knowing everything spares the margin."""
    drawn = found.settled
    assert drawn.draws == 200 and drawn.same == drawn.met
    assert drawn.low < drawn.high < found.value
    surer = next_trial(brief(folder, sure=0.99)).settled
    assert surer.spared > drawn.spared > 0


def test_a_brief_that_cannot_be_as_sure_is_told_what_narrows_most(folder):
    """At 6000 mPa.s only the furthest trial is near: nothing is 99.9 % sure inside what was tried."""
    asked = brief(folder, targets={"viscosity": {"at_least": 5000, "sure": 0.999}})
    assert first_listed(asked).polished is None
    found = next_trial(asked)
    assert not found.met and not found.stop
    assert found.trials and found.trials[0].gain is None
    assert "No formula holds what is asked as surely as asked" in found.to_text()


def test_every_form_of_it(found):
    text = found.to_text()
    assert len(text.splitlines()) <= 42 and max(map(len, text.splitlines())) <= 80
    assert found.to_csv().splitlines()[0] == "trial,date,block,brief,parent,material,grams"
    assert json.loads(found.to_json())["settled"]["draws"] == 200
    assert "The next trial" in found.to_html()


@pytest.mark.parametrize(
    ("keys", "part"),
    [
        ({"targets": {"viscosity": {"at_least": 2000}}}, "is asked for with `sure`"),
        ({"bench": None}, "the brief names no bench"),
        (
            {"targets": {"viscosity": {"at_least": 2000, "sure": 0.9}, "cost": {"at_most": 0.01}}},
            "has no formula",
        ),
    ],
)
def test_what_has_no_answer_is_told(folder, keys, part):
    bare = "bench" in keys
    asked = brief(folder).model_copy(update={"bench": ""}) if bare else brief(folder, **keys)
    with pytest.raises(BadInput, match=part):
        next_trial(asked)
