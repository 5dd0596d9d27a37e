"""A trial is added whole or not at all; a reading that does not fit is asked about, never dropped."""

import math

import pytest

from optiform.faults import BadInput, Faults
from optiform.trials.adding import add_trial, parsed_reading
from optiform.trials.doubts import doubts
from optiform.trials.models import Reading, Trial
from optiform.trials.reading import load_bench
from tests.trials.benches import READINGS, WEIGHED, bench_at, wash_house

LIBRARY = wash_house()
THIRD = Trial(
    "", (("water", 164.0), ("glucoside", 24.0), ("betaine", 8.0), ("gum", 4.0)), parent="2", block="tuesday"
)


def reading(text):
    faults = Faults()
    found = parsed_reading(text, faults)
    faults.raise_if_any()
    return found


def test_the_first_trial_makes_the_folder(tmp_path):
    added = add_trial(tmp_path / "bench", LIBRARY, Trial("", THIRD.lines, (reading("viscosity=3200"),)))
    assert added.new
    assert added.trial.name == "1"
    assert added.trial.value("viscosity") == 3200
    header = (tmp_path / "bench/weighed.csv").read_text().splitlines()[0]
    assert header == "trial,date,block,brief,parent,material,grams"  # the file as documented
    header = (tmp_path / "bench/readings.csv").read_text().splitlines()[0]
    assert header == "trial,measure,value,censored,repeat,hours,temperature_C,instrument,note,photo"


def test_what_stood_there_stays_letter_by_letter(tmp_path):
    folder = bench_at(tmp_path / "bench")
    added = add_trial(folder, LIBRARY, THIRD)
    assert added.trial.name == "3"
    assert (folder / "weighed.csv").read_text().startswith(WEIGHED)
    assert (folder / "readings.csv").read_text() == READINGS
    assert load_bench(folder, LIBRARY).trial["3"].block == "tuesday"


def test_readings_come_later(tmp_path):
    folder = bench_at(tmp_path / "bench")
    added = add_trial(
        folder, LIBRARY, Trial("1", (), (Reading("foam", 80.0, hours=20.0, note="thick, creamy"),))
    )
    assert not added.new
    assert added.trial.value("foam") == 80
    assert (folder / "readings.csv").read_text().endswith('1,foam,80,,,20,,,"thick, creamy",\n')


@pytest.mark.parametrize(
    ("trial", "part"),
    [
        (Trial("1", THIRD.lines), "there is a trial '1' already"),
        (Trial("", THIRD.lines, parent="9"), "there is no trial '9'"),
        (Trial("9", (), (Reading("pH", 5.0),)), "there is no trial '9'"),
        (Trial("1", ()), "nothing was weighed and nothing was read"),
        (Trial("x" * 61, THIRD.lines), r"--trial: 'x+\.\.\.' is not allowed"),
        (Trial("3", THIRD.lines, date="y" * 41), "--date: 'y+' is not allowed"),
        (Trial("2", (), (Reading("one phase", 3.0),)), "--reading: '3' is not of the kind"),
        (Trial("2", (), (Reading("viscocity", 3.0),)), "did you mean 'viscosity'"),
    ],
)
def test_what_cannot_be_added_leaves_the_files_as_they_were(tmp_path, trial, part):
    folder = bench_at(tmp_path / "bench")
    with pytest.raises(BadInput, match=part):
        add_trial(folder, LIBRARY, trial)
    assert (folder / "weighed.csv").read_text() == WEIGHED
    assert (folder / "readings.csv").read_text() == READINGS


def fitted_bench(folder):
    """Seven invented trials along the gum: log10 mPa.s rises by 1.5 per 1 % of it."""
    weighed, readings = "trial,material,grams\n", "trial,measure,value\n"
    for name, gum in enumerate((0.4, 0.6, 0.8, 1.0, 1.0, 1.2, 1.4), start=1):
        weighed += f"{name},water,{84 - gum}\n{name},glucoside,12\n{name},betaine,4\n{name},gum,{gum}\n"
        readings += f"{name},viscosity,{10 ** (1.7 + 1.5 * gum + 0.03 * math.sin(name)):.0f}\n"
    return bench_at(folder, weighed, readings)


def test_a_digit_too_many_is_asked_about_and_kept_when_confirmed(tmp_path):
    """At 1.2 % of gum the line gives 10^(1.7 + 1.8) = 3,200; somebody types 32000."""
    folder = fitted_bench(tmp_path / "bench")
    lines = (("water", 82.8), ("glucoside", 12.0), ("betaine", 4.0), ("gum", 1.2))
    typed = Trial("", lines, (reading("viscosity=32000"),))
    with pytest.raises(BadInput, match="did you mean '3200'"):
        add_trial(folder, LIBRARY, typed)
    assert len(load_bench(folder, LIBRARY).trials) == 7
    added = add_trial(folder, LIBRARY, typed, checked=True)
    assert [doubt.meant for doubt in added.doubts] == [3200]
    assert added.trial.value("viscosity") == 32000
    assert added.trial.readings[0].checked


def test_a_doubtful_reading_of_the_file_is_named_until_it_is_checked(tmp_path):
    folder = fitted_bench(tmp_path / "bench")
    path = folder / "readings.csv"
    right = load_bench(folder, LIBRARY).trial["7"].value("viscosity")
    path.write_text(path.read_text().replace(f"7,viscosity,{right:.0f}", f"7,viscosity,{right:.0f}0"))
    (found,) = doubts(load_bench(folder, LIBRARY), LIBRARY)
    assert (found.trial, found.reading.number, found.meant) == ("7", 10 * right, right)
    assert "reading viscosity: trial 7 reads" in str(found.fault)
    path.write_text("\n".join(line + (",checked" if i == 0 else ",yes") for i, line in
                              enumerate(path.read_text().splitlines())) + "\n")  # fmt: skip
    assert doubts(load_bench(folder, LIBRARY), LIBRARY) == ()


def test_two_readings_of_one_vessel_that_differ_tenfold_are_asked_about(tmp_path):
    folder = bench_at(tmp_path / "bench")
    with pytest.raises(BadInput, match="trial 2 reads 61000"):
        add_trial(folder, LIBRARY, Trial("2", (), (reading("viscosity=61000"),)))


@pytest.mark.parametrize(
    ("text", "number", "passed", "censored"),
    [
        ("viscosity=3200", 3200, None, ""),
        ("one phase = yes", None, True, ""),
        ("clear=no", None, False, ""),
        ("cloud=>60", 60, None, "above"),
        ("cloud=<5", 5, None, "below"),
        ("thaw=failed", None, None, "failed"),
    ],
)
def test_what_a_typed_reading_means(text, number, passed, censored):
    found = reading(text)
    assert (found.number, found.passed, found.censored) == (number, passed, censored)


@pytest.mark.parametrize("text", ["viscosity", "=3", "pH=15", "viscosity=3,2 Pa.s", "feel=good"])
def test_what_is_no_reading_is_told(text):
    with pytest.raises(BadInput):
        reading(text)
