"""Formulas from a CSV or from a saved answer, and masses as people write them."""

import json

import pytest

from optiform.faults import BadInput
from optiform.library.typed.masses import read_mass
from optiform.sheets.weighable import read_weighable_formula
from tests.builders import tiny_library

LIBRARY = tiny_library([{"id": "gum"}, {"id": "soap"}])


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("2kg", 2000),
        ("2.5 kg", 2500),
        ("2,5kg", 2500),
        ("500 g", 500),
        ("250mg", 0.25),
        ("0.5KG", 500),
        (".5kg", 500),
    ],
)
def test_masses(text, grams):
    assert read_mass(text, "--batch") == pytest.approx(grams)


@pytest.mark.parametrize(
    "text", ["", "0", "-2kg", "two", "2 lb", "1e3", "nan", "inf", "9999999999kg", "2kg 3g", "250", "2,5"]
)
def test_no_masses(text):
    with pytest.raises(BadInput, match="--batch"):
        read_mass(text, "--batch")


def saved(tmp_path, formulas, **more):
    path = tmp_path / "answer.json"
    path.write_text(
        json.dumps({"question": "design", "brief": {"title": "Gel"}, "formulas": formulas, **more})
    )
    return path


def lines(**percents):
    return [{"material": name, "percent": percent} for name, percent in percents.items()]


def test_a_ranked_formula_of_a_saved_answer(tmp_path):
    path = saved(
        tmp_path,
        [{"rank": 1, "lines": lines(water=90, gum=10)}, {"rank": 2, "lines": lines(water=80, soap=20)}],
    )
    found = read_weighable_formula(path, LIBRARY, 2)
    assert found.lines == (("water", 80.0), ("soap", 20.0))
    assert found.name == "Gel, formula 2"


def test_a_rank_that_is_not_there_names_those_that_are(tmp_path):
    path = saved(tmp_path, [{"rank": 1, "lines": lines(water=100)}])
    with pytest.raises(BadInput, match="allowed: 1"):
        read_weighable_formula(path, LIBRARY, 3)
    with pytest.raises(BadInput, match="holds no formula"):
        read_weighable_formula(saved(tmp_path, []), LIBRARY)


def test_every_bad_line_of_a_saved_answer_is_named(tmp_path):
    bad = [{"material": "gun", "percent": 1}, {"material": "soap", "percent": "x"}, {"percent": 3}, 7]
    with pytest.raises(BadInput) as caught:
        read_weighable_formula(saved(tmp_path, [{"rank": 1, "lines": bad}]), LIBRARY)
    assert [fault.place for fault in caught.value.faults] == [
        "formula 1, line 1, material",
        "formula 1, line 2, percent",
        "formula 1, line 3, material",
        "formula 1, line 4, material",
    ]
    assert caught.value.faults[0].nearest == "gum"


@pytest.mark.parametrize(
    "text", ["{", "[1]", '{"formulas": 3}', '{"formulas": [3]}', '{"formulas": [{"rank": 1}]}']
)
def test_a_file_that_is_no_answer(tmp_path, text):
    path = tmp_path / "answer.json"
    path.write_text(text)
    with pytest.raises(BadInput):
        read_weighable_formula(path, LIBRARY)


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(BadInput, match="cannot be read"):
        read_weighable_formula(tmp_path / "none.json", LIBRARY)
    (tmp_path / "odd.json").write_bytes(b"\xff\xfe")
    with pytest.raises(BadInput, match="UTF-8"):
        read_weighable_formula(tmp_path / "odd.json", LIBRARY)


@pytest.mark.parametrize(("gum", "whole"), [(10.005, True), (9.995, True), (10.0051, False), (9.9949, False)])
def test_a_total_off_a_hundred_by_more_than_five_thousandths_is_refused(tmp_path, gum, whole):
    path = tmp_path / "today.csv"
    path.write_text(f"material,percent\nwater,90\ngum,{gum}\n")
    if whole:
        assert read_weighable_formula(path, LIBRARY).total == pytest.approx(90 + gum)
    else:
        with pytest.raises(BadInput, match=r"100 within 0\.005"):
            read_weighable_formula(path, LIBRARY)


def test_weighable_amounts_of_an_answer_are_used_for_the_batch_they_were_made_for(tmp_path):
    amounts = [("water", 225.1, 90.04), ("gum", 24.9, 9.96)]
    weighed = [{"material": m, "grams": g, "percent": p, "solution": None} for m, g, p in amounts]
    weighable = {"batch_g": 250.0, "lines": weighed}
    path = saved(tmp_path, [{"rank": 1, "lines": lines(water=90.0333, gum=9.9667), "weighable": weighable}])
    assert read_weighable_formula(path, LIBRARY, 1, 250.0).lines == (("water", 90.04), ("gum", 9.96))
    assert "weighable for 250 g" in read_weighable_formula(path, LIBRARY, 1, 250.0).notes[0]
    assert read_weighable_formula(path, LIBRARY, 1, 500.0).lines[1] == ("gum", 9.9667)
    weighed[1]["solution"] = 10.0
    path = saved(tmp_path, [{"rank": 1, "lines": lines(water=90.0333, gum=9.9667), "weighable": weighable}])
    assert read_weighable_formula(path, LIBRARY, 1, 250.0).lines[1] == ("gum", 9.9667)
