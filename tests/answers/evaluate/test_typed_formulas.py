"""Any formula typed in: everything it breaks is told, and nothing is rejected."""

import math

import pytest

from optiform.answers.evaluate import evaluate
from optiform.brief.models import Baseline, Brief, Exclude, Share, Target
from optiform.faults import BadInput
from optiform.library.formulas import TypedFormula, read_formula
from tests.answers.rework.today import starter
from tests.builders import tiny_library


def judged(lines, library=None, brief=None):
    typed = TypedFormula("typed", tuple(lines.items()), math.fsum(lines.values()))
    return evaluate(typed, library or starter(), brief)


def breaks(answer):
    return {str(item.requirement.key): item.message for item in answer.formulas[0].breaks}


GOOD = {
    "water": 72.6,
    "decyl-glucoside": 20.0,
    "glycerin": 6.0,
    "sodium-benzoate": 0.5,
    "potassium-sorbate": 0.3,
    "citric-acid": 0.6,
}


def test_a_list_that_adds_up_to_113_percent_is_measured_as_typed():
    answer = judged({**GOOD, "water": 85.6})
    assert breaks(answer)["balance"] == "the lines add up to 113 % w/w"
    assert any("113" in note for note in answer.notes)
    assert answer.formulas[0].figure("active matter").value == pytest.approx(10.4)


def test_a_material_above_its_range_is_told_with_the_amount():
    found = breaks(judged({**GOOD, "water": 38.5, "glycerin": 40.0}))
    assert found["use/glycerin/at_most"] == "here 40 % w/w"


def test_a_material_above_its_range_is_told_also_where_the_program_has_no_choice_for_it():
    library = tiny_library([{"id": "oil", "function": "oil", "max_use": 5.0}])
    assert breaks(judged({"water": 90.0, "oil": 10.0}, library))["use/oil/at_most"] == "here 10 % w/w"


def test_a_preservative_outside_its_ph_is_told_with_the_ph():
    found = breaks(judged({**GOOD, "citric-acid": 0.1, "water": 73.1}))
    assert found["system-pH/benzoate with sorbate"].startswith("here pH 10")
    assert found["material-pH/sodium-benzoate"].startswith("here pH 10")


def test_a_preservative_outside_its_ph_is_told_also_where_a_brief_doses_another_ph():
    brief = Brief(title="b", library=starter(), targets={"pH": Target(at_least=4.6, at_most=5.0)})
    found = breaks(judged({**GOOD, "citric-acid": 0.1, "water": 73.1}, brief=brief))
    assert "targets/pH/at_most" in found and "system-pH/benzoate with sorbate" in found


def test_nothing_is_told_twice_where_a_brief_doses_another_ph():
    brief = Brief(title="b", library=starter(), targets={"pH": Target(at_least=4.6, at_most=5.0)})
    answer = judged({**GOOD, "water": 38.5, "glycerin": 40.0}, brief=brief)
    keys = [str(item.requirement.key) for item in answer.formulas[0].breaks]
    assert "use/glycerin/at_most" in keys and len(keys) == len(set(keys))


def test_what_is_excluded_is_named_with_its_amount():
    brief = Brief(
        title="b",
        library=starter(),
        targets={"active matter": Target(at_least=1.0)},
        exclude=(Exclude(tag="glucoside"),),
    )
    assert breaks(judged(GOOD, brief=brief))["exclude/1"] == "here decyl-glucoside 20 % w/w"


def test_a_missing_preservative_a_legal_limit_and_a_house_rule():
    bare = {
        name: value for name, value in GOOD.items() if name not in ("sodium-benzoate", "potassium-sorbate")
    }
    assert "preserved" in breaks(judged({**bare, "water": 73.3}))
    found = breaks(
        judged({**GOOD, "water": 70.0, "phenoxyethanol": 2.0, "xanthan-gum": 0.5, "glycerin": 6.0})
    )
    assert any(key.startswith("law/") for key in found) and "system/phenoxyethanol" in found
    dry = {name: value for name, value in GOOD.items() if name != "glycerin"}
    assert "library/needs/1/at_least" in breaks(judged({**dry, "water": 77.5, "xanthan-gum": 1.0}))


def test_every_break_with_a_number_says_what_the_formula_has():
    """No break is left at "not met" where the amounts tell more."""
    brief = Brief(
        title="b",
        library=starter(),
        share=(Share(each="surfactant", at_most=65.0),),
        baseline=Baseline(
            formula="t",
            lines=(("water", 94.0), ("xanthan-gum", 1.0), ("carbomer", 0.5)),
            at_most_new=1,
            at_most_dropped=1,
        ),
    )
    salty = {**GOOD, "water": 69.0, "sodium-chloride": 3.5}
    found = breaks(judged(salty, brief=brief))
    assert found["share/1/at_most"] == "here Decyl Glucoside 100 % of active matter"
    assert found["baseline/at_most_dropped"] == "here 2"
    assert found["baseline/at_most_new"] == "here 5"
    assert found["library/linear/1/at_most"] == "here 3.49 % w/w"  # 3.5 % of a salt of 99.7 %
    assert "not met" not in found.values()


def test_a_window_of_ph_that_something_needs_says_the_ph_that_there_is():
    brief = Brief(title="b", library=starter(), targets={"pH": Target(at_least=3.7, at_most=4.1)})
    answer = judged({**GOOD, "citric-acid": 0.95, "water": 72.25}, brief=brief)
    said = [words for key, words in breaks(answer).items() if "pH" in key]
    assert said and set(said) == {f"here pH {answer.formulas[0].acidity.pH:.2f}"}


def test_every_measure_says_who_brings_it():
    formula = judged(GOOD).formulas[0]
    for figure in formula.figures:
        if figure.value is not None and figure.measure not in ("pH", "irritation load", "viscosity"):
            assert math.fsum(part for _, part in figure.parts) == pytest.approx(figure.value, abs=1e-6), (
                figure.measure
            )


def test_unknown_materials_are_named_with_the_nearest_all_at_once(tmp_path):
    path = tmp_path / "typed.csv"
    path.write_text("material,percent\nwater,q.s.\ndecyl-glucosid,20\nglycerine,5\n")
    with pytest.raises(BadInput) as caught:
        read_formula(path, starter())
    assert "did you mean 'decyl-glucoside'" in str(caught.value) and "did you mean 'glycerin'" in str(
        caught.value
    )


def test_a_brief_with_a_baseline_judges_what_is_held_too():
    brief = Brief(
        title="b",
        library=starter(),
        baseline=Baseline(formula="t", lines=tuple(GOOD.items()), keep=("glycerin",)),
    )
    assert breaks(judged(GOOD, brief=brief)) == {}
    found = breaks(judged({**GOOD, "glycerin": 5.0, "water": 73.6}, brief=brief))
    assert found == {"keep/glycerin/equal": "here 5 % w/w"}
