"""The record predicts a reading as the trials of the brief's bench do: Student's t by scipy, in two figures."""

import numpy as np
from scipy.stats import t as student

from optiform import sheet
from tests.answers.trials.test_learning import bench
from tests.answers.trials.test_next_trial import brief


def wanted(asked, wash):
    made = sheet(wash, "200 g", parts=["batch"], brief=asked).batch
    blanks = [blank for part in made.after for blank in part.blanks]
    return next(blank.wanted for blank in blanks if blank.key == "viscosity day 1")


def test_a_wash_of_the_base_is_predicted_and_another_is_not(tmp_path):
    bench(tmp_path / "bench")
    asked = brief(tmp_path)
    (measure,) = asked.known.taught
    wash = {"water": 82.8, "glucoside": 12.0, "betaine": 4.0, "gum": 1.2}
    row = np.array([wash[name] for name in measure.materials])
    centre, scale = measure.knowledge.predicted(row)
    half = student.ppf(0.95, measure.knowledge.degrees_of_freedom) * scale
    low, high = (float(f"{10 ** (centre + side * half):.2g}") for side in (-1, 1))
    told = wanted(asked, wash)
    assert told == f"at least 2000; your trials predict {low:g} to {high:g}"
    assert wanted(asked, {"water": 84.0, "glucoside": 16.0}) == "at least 2000"
