"""A plan of trials: each holds the brief and can be weighed, and together they teach more than others do."""

import json
from collections import Counter

import numpy as np
import pytest

from optiform.answers.evaluate import evaluate
from optiform.answers.trials.planning import plan_trials
from optiform.answers.trials.region import explore
from optiform.brief import brief_from
from optiform.cli import main
from optiform.faults import BadInput
from optiform.learning.conjugate import prior
from optiform.library.formulas import TypedFormula
from optiform.search.first_formula import first_listed
from tests.trials.benches import bench_at, wash_house

LIBRARY = wash_house()


def brief(**keys):
    mapping = {
        "title": "Quay wash",
        "law": "none",
        "targets": {"function:surfactant": {"at_least": 12.0, "at_most": 20.0}},
        "include": [
            {"material": "glucoside", "at_least": 6.0, "at_most": 14.0},
            {"material": "betaine", "at_least": 3.0, "at_most": 9.0},
            {"material": "gum", "at_least": 0.4, "at_most": 1.4},
            {"material": "glycerin", "at_least": 1.0, "at_most": 5.0},
            {"material": "salt", "at_least": 0.5, "at_most": 0.5},
        ],
        "weighing": {"batch_g": 200.0, "balance_g": 0.01},
        **keys,
    }
    return brief_from(mapping, LIBRARY)


@pytest.fixture(scope="module")
def plan():
    return plan_trials(brief())


def percents(trial):
    return {line.material: line.percent for line in trial.lines}


def test_every_trial_holds_the_brief_and_stands_on_the_balance(plan):
    for trial in plan.trials:
        assert sum(line.grams for line in trial.lines) == pytest.approx(200.0, abs=1e-9)
        assert all(abs(line.grams * 100 - round(line.grams * 100)) < 1e-6 for line in trial.lines)
        typed = TypedFormula(trial.name, tuple(percents(trial).items()), 100.0)
        assert not evaluate(typed, LIBRARY, brief()).formulas[0].breaks


def test_what_varies_and_what_the_brief_holds(plan):
    assert {one.material: (one.low, one.high) for one in plan.varied} == {
        "glucoside": (pytest.approx(6), pytest.approx(14)),
        "betaine": (pytest.approx(3), pytest.approx(9)),
        "gum": (pytest.approx(0.4), pytest.approx(1.4)),
        "glycerin": (pytest.approx(1), pytest.approx(5)),
    }
    assert [one.material for one in plan.kept] == ["salt"]
    assert plan.base == ("Glucoside", "Betaine", "Gum")


def test_the_middle_is_made_once_every_evening_in_an_order_of_its_own(plan):
    assert len(plan.trials) == 8
    assert [trial.name for trial in plan.trials] == [str(number) for number in range(1, 9)]
    repeats = Counter(trial.block for trial in plan.trials if trial.repeat)
    assert repeats == {1: 1, 2: 1, 3: 1}
    again = [trial for trial in plan.trials if trial.repeat]
    assert again[0].lines == again[1].lines
    assert plan_trials(brief(), seed=2).trials != plan.trials == plan_trials(brief()).trials


def test_the_trials_teach_more_than_formulas_drawn_at_random(plan):
    """The determinant of prior and trials, against a hundred draws of as many formulas from inside the brief."""
    names = ("water", "glucoside", "betaine", "gum", "glycerin", "salt")
    known = prior([0, 0.05, 0.05, 1.5, 0, 0.4], [0.005, 0.05, 0.05, 1.0, 0.1, 0.4], 0.1).precision

    def worth(rows):
        return np.linalg.slogdet(known + rows.T @ rows)[1]

    planned = np.array([[percents(trial).get(name, 0.0) for name in names] for trial in plan.trials])
    program = first_listed(brief()).polished
    index = LIBRARY.arrays.material_index
    drawn = explore(program, 5).candidates[-40:, [index[name] for name in names]]
    random = np.random.default_rng(3)
    best = max(worth(drawn[random.integers(0, 40, len(planned))]) for _ in range(100))
    assert worth(planned) > best


def test_formulas_that_are_explored_hold_every_row_and_reach_the_ends():
    polished = first_listed(brief()).polished
    found, form = explore(polished, 1), polished.program.form
    for values in found.candidates:
        activity = form.activity(values)
        assert np.all(activity >= form.row_lower - 2e-6) and np.all(activity <= form.row_upper + 2e-6)
    inside = found.candidates[-40:, : polished.program.size]
    assert np.ptp(inside, axis=0).max() > 1.0  # they are spread, not one point


def test_what_the_trials_will_tell_is_what_they_tell(plan):
    """The promised width is that of the posterior after eight readings on the line that was predicted."""
    names = ("water", "glucoside", "betaine", "gum", "glycerin", "salt")
    known = prior([0, 0.05, 0.05, 1.5, 0, 0.4], [0.005, 0.05, 0.05, 1.0, 0.1, 0.4], 0.1)
    rows = np.array([[percents(trial).get(name, 0.0) for name in names] for trial in plan.trials])
    after = known.updated(rows, rows @ known.mean)
    middle = next(row for row, trial in zip(rows, plan.trials, strict=True) if trial.repeat)
    low, high = after.interval(middle)
    promised = np.log10(plan.predicted.after_high / plan.predicted.after_low)
    scale = np.sqrt(
        known.residual_variance / after.residual_variance
    )  # the noise that repeats will show is not predicted
    assert promised == pytest.approx((high - low) * scale, rel=0.01)
    assert (
        plan.predicted.high / plan.predicted.low > 10 * plan.predicted.after_high / plan.predicted.after_low
    )


def test_the_gum_is_taught_first(plan):
    """It moves the logarithm by 1.0 * 1.0, more than anything else: most trials stand at one of its ends."""
    told = Counter(end[0] for trial in plan.trials for end in trial.ends)
    assert told["gum"] >= 4 and told["gum"] == max(told.values())


def test_what_the_balance_cannot_weigh_in_the_middle_is_told_and_another_trial_is_repeated():
    """0.12 g of glycerin is less than 0.25 g, which a balance of 0.01 g weighs within 2 %; the most of it is not."""
    wishes = [
        {"material": "glucoside", "at_least": 6.0, "at_most": 14.0},
        {"material": "betaine", "at_least": 6.0, "at_most": 6.0},
        {"material": "gum", "at_least": 0.4, "at_most": 1.4},
        {"material": "glycerin", "at_least": 0.01, "at_most": 0.14},
        {"material": "salt", "at_least": 0.5, "at_most": 0.5},
    ]
    weighing = {"batch_g": 200.0, "balance_g": 0.01, "error_percent": 2.0}
    found = plan_trials(brief(include=wishes, weighing=weighing))
    again = [trial for trial in found.trials if trial.repeat]
    assert not found.middle
    assert len(found.trials) == 8 and len(again) == 3 and len({trial.lines for trial in again}) == 1
    assert all(line.grams >= 0.25 for trial in found.trials for line in trial.lines)
    assert "one near the middle, once every evening" in found.to_text()
    assert "cannot weigh a wash in the middle" in found.to_text()


def test_earlier_trials_count(tmp_path):
    fixed = {"glucoside": 10, "betaine": 5, "glycerin": 2, "salt": 0.5}
    weighed = "trial,material,grams\n"
    for name, gum in (("1", 0.5), ("2", 1.3)):
        held = {"water": 82.5 - gum, "gum": gum, **fixed}
        weighed += "".join(f"{name},{material},{grams}\n" for material, grams in held.items())
    bench = bench_at(tmp_path / "b", weighed, "trial,measure,value\n1,viscosity,300\n2,viscosity,4800\n")
    found = plan_trials(brief(), trials=3, bench=bench)
    assert found.earlier == 2
    assert [trial.name for trial in found.trials] == ["3", "4", "5"]
    assert found.predicted.high / found.predicted.low < 1000


def test_a_measure_of_which_nothing_is_expected_is_planned_too():
    found = plan_trials(brief(), measure="foam", trials=6)
    assert found.predicted is None
    assert len(found.trials) == 6


@pytest.mark.parametrize(
    ("keys", "part"),
    [
        ({"targets": {"function:surfactant": {"at_least": 30.0}}}, "has no formula to vary"),
        ({"include": [{"material": name, "at_least": 3.0, "at_most": 3.0} for name in ("glucoside", "betaine", "gum")],
          "targets": {}, "exclude": [{"material": "salt"}, {"material": "glycerin"}]}, "nothing in the brief can vary"),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_told(keys, part):
    with pytest.raises(BadInput, match=part):
        plan_trials(brief(**keys))


def test_every_form_of_it(plan):
    text = plan.to_text()
    assert len(text.splitlines()) <= 42 and max(map(len, text.splitlines())) <= 80
    assert "the middle, once every evening" in text and "gum" in text
    assert "evening 1, grams" in plan.to_text(full=True)
    rows = plan.to_csv().splitlines()
    assert rows[0] == "trial,date,block,brief,parent,material,grams"
    assert len(rows) == 1 + sum(len(trial.lines) for trial in plan.trials)
    assert len(json.loads(plan.to_json())["trials"]) == 8


def test_the_form_is_a_bench_once_it_is_filled(tmp_path, capsys, monkeypatch, plan):
    from optiform.trials.reading import load_bench

    folder = bench_at(tmp_path / "bench", plan.to_csv(), None)
    assert len(load_bench(folder, LIBRARY).trials) == 8
    monkeypatch.chdir(tmp_path)
    assert main(["trial", "plan", "nowhere.toml"]) == 2
