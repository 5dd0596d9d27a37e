"""A pH that was measured at the bench is a reading of the bench folder: of the trial it is, or of a new one."""

from dataclasses import replace

import pytest

from optiform.answers.bench.readings import Addition, bench
from optiform.answers.trials.listing import record_measured
from optiform.faults import BadInput
from optiform.library.formulas import TypedFormula
from optiform.trials.reading import load_bench
from tests.trials.benches import wash_house

LIBRARY = wash_house()
WASH = TypedFormula("wash", (("water", 86.0), ("glucoside", 12.0), ("glycerin", 2.0)), 100.0)
SALT = Addition("salt", 20.0, 10.0)


def measured(pH=None, additions=()):
    """Return what the bench says of a wash in a library without charges, and what a meter read of it."""
    return replace(bench(WASH, LIBRARY, batch_g=500.0, additions=additions), pH=pH)


def test_a_first_reading_makes_the_bench_and_a_second_is_added(tmp_path):
    for pH in (11.2, 11.3):
        record_measured(tmp_path, LIBRARY, measured(pH))
    (trial,) = load_bench(tmp_path, LIBRARY).trials
    assert [reading.number for reading in trial.read("pH")] == [11.2, 11.3]
    assert trial.total_g == pytest.approx(500.0)


def test_a_wash_with_something_added_is_another_trial_of_the_first_one(tmp_path):
    """20 g of a 10 % solution: 2 g of salt and 18 g of water more, 520 g together."""
    record_measured(tmp_path, LIBRARY, measured(11.2))
    added = record_measured(tmp_path, LIBRARY, measured(7.0, (SALT,)))
    assert added.new
    trial = load_bench(tmp_path, LIBRARY).trial["2"]
    assert trial.parent == "1"
    assert dict(trial.lines) == pytest.approx(
        {"water": 448.0, "glucoside": 60.0, "glycerin": 10.0, "salt": 2.0}
    )
    assert trial.value("pH") == 7.0


def test_the_same_reading_twice_and_none_at_all_are_refused(tmp_path):
    record_measured(tmp_path, LIBRARY, measured(11.2))
    before = (tmp_path / "readings.csv").read_bytes()
    with pytest.raises(BadInput, match=r"trial 1 has a pH of 11\.2 already"):
        record_measured(tmp_path, LIBRARY, measured(11.2))
    with pytest.raises(BadInput, match="no pH was measured"):
        record_measured(tmp_path, LIBRARY, measured())
    assert (tmp_path / "readings.csv").read_bytes() == before
