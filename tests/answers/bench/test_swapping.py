"""A swap keeps the substance and the pH, lets water take the difference, and tells only what changes."""

import json
from pathlib import Path

import pytest

from optiform.answers.bench.swapping import swap
from optiform.answers.evaluate import evaluate
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.formulas import TypedFormula, read_formula
from tests.builders import tiny_library

LIBRARY = tiny_library(
    [
        {"id": "quay-30", "name": "Quay betaine, 30 %", "function": "surfactant", "price": 2.0},
        {"id": "harbour-40", "name": "Harbour betaine, 40 %", "function": "surfactant", "price": 3.0},
        {"id": "glucoside", "function": "surfactant", "price": 4.0},
        {"id": "gum", "price": 10.0},
    ],
    [
        {
            "inci": "Cocamidopropyl Betaine",
            "charge_class": "amphoteric",
            "charge_acid_form": 0,
            "strong_charge": 0,
        },
        {"inci": "Decyl Glucoside", "charge_class": "nonionic", "charge_acid_form": 0, "strong_charge": 0},
    ],
    parts={
        "quay-30": {"Cocamidopropyl Betaine": 30, "Sodium Chloride": 5},
        "harbour-40": {"Cocamidopropyl Betaine": 40},
        "glucoside": {"Decyl Glucoside": 50},
    },
)
STARTER = load_library()
TODAY = TypedFormula("today", (("water", 79.0), ("quay-30", 20.0), ("gum", 1.0)), 100.0)


def test_the_same_substance_stands_and_water_takes_the_difference():
    """By hand: 20 % of 30 % is 6 % active, which 15 % of 40 % bring; 5 % more water; 0.4 + 0.1 to 0.45 + 0.1 a kg."""
    found = swap(TODAY, LIBRARY, "quay-30", "Harbour Betaine 40 %")
    assert found.formula.amounts == pytest.approx({"water": 84.0, "harbour-40": 15.0, "gum": 1.0})
    assert (found.what, found.strength_before, found.strength_after) == ("active matter", 30.0, 40.0)
    assert (found.planned.cost, found.swapped.cost) == (pytest.approx(0.50), pytest.approx(0.55))
    assert found.formula.total == pytest.approx(100.0)


def test_what_is_there_already_is_added_to():
    typed = TypedFormula("today", (("water", 75.0), ("quay-30", 20.0), ("harbour-40", 5.0)), 100.0)
    assert swap(typed, LIBRARY, "quay-30", "harbour-40").formula.amounts == pytest.approx(
        {"water": 80.0, "harbour-40": 20.0}
    )


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("quay-30", "glucoside", "not the same substance"),
        ("quay-30", "quay-30", "both 'quay-30'"),
        ("glucoside", "quay-30", "holds no 'glucoside'"),
        ("quay-30", "nobody", "no material 'nobody'"),
        ("Cocamidopropyl Betaine", "harbour-40", "could be 2 materials"),
    ],
)
def test_what_is_no_swap(old, new, said):
    with pytest.raises(BadInput, match=said):
        swap(TODAY, LIBRARY, old, new)


def test_without_water_there_is_no_room_for_a_weaker_grade():
    typed = TypedFormula("today", (("water", 1.0), ("harbour-40", 99.0)), 100.0)
    with pytest.raises(BadInput, match="no water left"):
        swap(typed, LIBRARY, "harbour-40", "quay-30")


def test_the_acid_is_dosed_again_so_that_the_pH_stays():
    """An alkaline glucoside gives way to a neutralised one: less acid for the same pH, whichever it is."""
    lines = (
        ("water", 84.1), ("decyl-glucoside", 15.0), ("citric-acid", 0.4), ("sodium-benzoate", 0.5),
    )  # fmt: skip
    typed = TypedFormula("today", lines, 100.0)
    found = swap(typed, STARTER, "decyl-glucoside", "decyl-glucoside-neutral")
    assert found.dose is not None and found.dose.material == "citric-acid"
    assert found.dose.after < found.dose.before
    before, after = (evaluate(each, STARTER).formulas[0].acidity for each in (typed, found.formula))
    assert after.pH == pytest.approx(before.pH, abs=1e-6)
    assert found.formula.amounts["sodium-benzoate"] == 0.5 and found.formula.total == pytest.approx(100.0)


def test_every_form_of_a_swap(tmp_path, monkeypatch, capsys):
    """CSV and JSON are formulas that every command reads; the text names what changes and not the gum."""
    from optiform.cli.entry import main

    monkeypatch.chdir(tmp_path)
    Path("today.csv").write_text(
        "name;%\nAqua;q.s.\nDecyl-glucoside-neutral;10\nxanthan gum;0,5\ncitric-acid;0,2\n"
    )
    words = ["swap", "today.csv", "decyl-glucoside-neutral", "decyl-glucoside", "--out"]
    for name, form in (("new.csv", "csv"), ("new.json", "json"), ("new.txt", "text"), ("new.html", "html")):
        assert main([*words, name, "--format", form]) == 0, capsys.readouterr().err
    assert read_formula("new.csv", STARTER).lines == read_formula("new.json", STARTER).lines
    table = Path("new.txt").read_text().partition("Read ")[0]
    assert "Citric acid" in table and "Xanthan" not in table.partition("ingredient list")[0]
    document = json.loads(Path("new.json").read_text())
    assert document["dose"]["material"] == "citric-acid" and document["matched"][0]["material"] == "water"
