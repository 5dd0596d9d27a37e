"""What a bench folder says, and every way in which it can be wrong: file, row, value, what is allowed, nearest."""

import pytest

from optiform.faults import BadInput
from optiform.trials.models import base_of
from optiform.trials.reading import load_bench
from tests.trials.benches import READINGS, WEIGHED, bench_at, wash_house

LIBRARY = wash_house()


def faults_of(folder):
    with pytest.raises(BadInput) as bad:
        load_bench(folder, LIBRARY)
    return list(map(str, bad.value.faults))


def only_fault(folder):
    (fault,) = faults_of(folder)
    return fault


def test_trials_are_read_in_order_with_percents_by_hand(tmp_path):
    bench = load_bench(bench_at(tmp_path / "bench"), LIBRARY)
    assert list(bench.trial) == ["1", "2"]
    assert bench.trial["1"].total_g == 200
    assert bench.trial["1"].percents == {"water": 83, "glucoside": 12, "betaine": 4, "gum": 1}
    assert bench.trial["2"].parent == "1"
    assert base_of(bench.trials[0], LIBRARY) == {"glucoside", "betaine", "gum"}
    assert bench.measures == ("viscosity", "pH", "cloud")
    assert bench.gates == ("one phase",)


def test_the_value_of_a_trial_is_the_geometric_mean_of_its_fresh_readings(tmp_path):
    """log10 of sqrt(1100 * 1200); the reading after a week at 45 C belongs to the stability log."""
    first = load_bench(bench_at(tmp_path / "bench"), LIBRARY).trial["1"]
    assert 10 ** first.value("viscosity", logarithm=True) == pytest.approx((1100 * 1200) ** 0.5)
    assert first.value("foam") is None


def test_censored_readings_and_gates_are_no_numbers_to_fit(tmp_path):
    bench = load_bench(bench_at(tmp_path / "bench"), LIBRARY)
    assert bench.trial["2"].value("cloud") is None
    assert bench.trial["1"].passed("one phase") is True
    assert bench.trial["2"].passed("one phase") is False
    assert bench.trial["2"].parted
    assert bench.trial["1"].passed("clear") is None


def test_a_picture_that_is_not_there_is_told(tmp_path):
    folder = bench_at(tmp_path / "bench")
    assert load_bench(folder, LIBRARY).notes == ("Trial 1: there is no picture 'one.jpg' in the folder.",)
    (folder / "one.jpg").write_bytes(b"")
    assert load_bench(folder, LIBRARY).notes == ()


def test_a_bench_without_readings_is_one(tmp_path):
    assert load_bench(bench_at(tmp_path / "bench", readings=None), LIBRARY).measures == ()


def test_one_material_weighed_in_two_steps_is_one_line(tmp_path):
    weighed = WEIGHED.replace("1,2026-03-02,monday,nettle.toml,,gum,2", "1,,,,,gum,1.5\n1,,,,,gum,0.5")
    bench = load_bench(bench_at(tmp_path / "bench", weighed), LIBRARY)
    assert dict(bench.trial["1"].lines)["gum"] == 2


WRONG = {
    "unknown material": (
        "material,grams", ("1,2026-03-02,monday,nettle.toml,,gum,2", "1,2026-03-02,monday,nettle.toml,,gumm,2"),
        ("weighed.csv, row 5, column material", "no material 'gumm'", "did you mean 'gum'?"),
    ),
    "no grams": (
        "", ("glucoside,24\n1", "glucoside,none\n1"), ("row 3, column grams", "'none' is not a number"),
    ),
    "a decimal comma": ("", ("gum,2\n", 'gum,"2,5"\n'), ("row 5, column grams", "did you mean '2.5'?")),
    "nothing of it": ("", ("gum,2\n", "gum,0\n"), ("row 5, column grams", "'0' is not allowed")),
    "two trials of one name": (
        "", ("gum,3\n", "gum,3\n1,2026-03-02,monday,nettle.toml,,water,100\n"),
        ("row 10, column trial", "there is a trial '1' further up already"),
    ),
    "two blocks": (
        "", ("1,2026-03-02,monday,nettle.toml,,gum", "1,2026-03-02,tuesday,nettle.toml,,gum"),
        ("row 5, column block", "another block above: 'monday'"),
    ),
    "a parent that is none": (
        "", ("nettle.toml,1,", "nettle.toml,7,"), ("row 6, column parent", "no earlier trial '7'"),
    ),
    "its own parent": ("", ("nettle.toml,1,", "nettle.toml,2,"), ("row 6", "no earlier trial '2'")),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_with_weighed_is_told(tmp_path, name):
    _, (old, new), parts = WRONG[name]
    assert old in WEIGHED
    fault = only_fault(bench_at(tmp_path / "bench", WEIGHED.replace(old, new)))
    assert all(part in fault for part in parts), fault


def test_a_total_that_is_not_the_sum_is_told(tmp_path):
    weighed = "trial,material,grams,total_g\n1,water,80,\n1,glucoside,20,110\n"
    fault = only_fault(bench_at(tmp_path / "bench", weighed, None))
    assert "row 2, column total_g: the lines of trial '1' add up to 100 g, not to 110 g" in fault
    good = weighed.replace("110", "100.4")
    assert load_bench(bench_at(tmp_path / "bench", good, None), LIBRARY).trial["1"].total_g == 100


WRONG_READINGS = {
    "of no trial": ("1,pH,5.4", "7,pH,5.4", ("readings.csv, row 4, column trial", "no trial '7'")),
    "a measure misspelt": (
        "1,viscosity,1200", "1,viscocity,1200", ("row 3, column measure", "did you mean 'viscosity'?"),
    ),
    "a unit in the cell": ("1,pH,5.4", '1,foam,"80 mm"', ("row 4, column value", "has a unit", "mean '80'")),
    "Pa.s in place of mPa.s": ("1100", "1.1 Pa.s", ("row 2, column value", "mean '1100'")),
    "no value": ("1,pH,5.4", "1,pH,", ("row 4, column value", "the cell is empty")),
    "no pH": ("1,pH,5.4", "1,pH,54", ("row 4, column value", "a pH of 54 is not allowed", "from 0 to 14")),
    "not above nothing": ("1100", "0", ("row 2, column value", "a viscosity of 0 is not allowed")),
    "no word for it": ("1,one phase,yes", "1,one phase,perhaps", ("row 5, column value", "yes or no")),
    "number and yes mixed": ("1,one phase,yes", "1,pH,yes", ("row 5, column value", "a number")),
    "a censoring of its own": ("60,above", "60,over", ("row 8, column censored", "above, below, failed")),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG_READINGS)
def test_what_is_wrong_with_readings_is_told(tmp_path, name):
    old, new, parts = WRONG_READINGS[name]
    assert old in READINGS
    fault = only_fault(bench_at(tmp_path / "bench", readings=READINGS.replace(old, new)))
    assert all(part in fault for part in parts), fault


def test_all_faults_of_both_files_are_told_at_once(tmp_path):
    folder = bench_at(tmp_path / "bench", WEIGHED.replace("gum,2", "gumm,2"), READINGS.replace("5.4", "54"))
    assert len(faults_of(folder)) == 2


def test_a_folder_that_is_none_and_one_without_the_file(tmp_path):
    bench_at(tmp_path / "bench")
    assert "did you mean" in only_fault(tmp_path / "bensh")
    (tmp_path / "notes").write_text("a file, and no folder is called nearly so")
    assert "did you mean" not in only_fault(tmp_path / "notes")
    (tmp_path / "empty").mkdir()
    assert "weighed.csv: the file is missing" in only_fault(tmp_path / "empty")


def test_where_the_weighings_cannot_be_read_nothing_is_said_of_the_trials_of_readings(tmp_path):
    folder = bench_at(tmp_path / "bench")
    (folder / "weighed.csv").write_bytes(b"\xff\xfe\x00")
    assert "weighed.csv" in only_fault(folder)


def test_a_reading_of_the_same_day_does_not_count_beside_one_of_the_next(tmp_path):
    """Air makes a wash look thick and gums build overnight (common practice, no source)."""
    readings = "trial,measure,value,hours\n1,viscosity,9000,0\n1,viscosity,3000,20\n2,viscosity,800,2\n"
    bench = load_bench(bench_at(tmp_path / "bench", WEIGHED, readings), LIBRARY)
    assert bench.trial["1"].value("viscosity") == 3000
    assert bench.trial["2"].value("viscosity") == 800
