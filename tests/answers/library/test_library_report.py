"""The report on a library, and the free alkali behind a measured pH."""

import math

import pytest

from optiform.answers.library.free_alkali import free_alkali_of, with_free_alkali
from optiform.answers.library.report import check_library, report_on
from optiform.faults import BadInput
from optiform.library.adding import new_material
from tests.builders import tiny_library

CITRIC = {"inci": "Citric Acid", "pka": (3.128, 4.761, 6.396), "charge_acid_form": 0.0, "strong_charge": 0.0,
          "molar_mass": 192.12, "source": "handbook"}  # fmt: skip
GLUCOSIDE = {
    "inci": "Decyl Glucoside",
    "charge_class": "nonionic",
    "charge_acid_form": 0.0,
    "strong_charge": 0.0,
}


def library(**acid):
    return tiny_library(
        [
            {"id": "acid", "function": "acid", **acid},
            {"id": "glucoside", "function": "surfactant", "trust": "memory"},
            {"id": "leaf", "function": "extract", "natural_origin": 1.0},
        ],
        [CITRIC, GLUCOSIDE, {"inci": "Leaf Extract"}],
        {
            "acid": {"Citric Acid": 100.0},
            "glucoside": {"Decyl Glucoside": 53.0},
            "leaf": {"Leaf Extract": 5.0},
        },
        trust={"price": "invented"},
    )


def test_pH_of_a_strong_solution_of_citric_acid_agrees_with_the_dilution_law():
    """10 % citric acid is 0.58 mol per kg of water; pH = (pKa1 - log c)/2 gives 1.7, activity aside."""
    (check,) = check_library(library(pH_10_min=1.4, pH_10_max=2.0)).acidity
    assert check.computed == pytest.approx((3.128 - math.log10(10 / 192.12 / 0.09)) / 2, abs=0.2)
    assert check.distance == 0.0
    assert not check_library(library(pH_10_min=1.4, pH_10_max=2.0)).outside


@pytest.mark.parametrize(("low", "high"), [(2.5, 3.5), (None, 0.9), (2.5, None)])
def test_material_whose_pH_misses_the_suppliers_window_is_named(low, high):
    (check,) = check_library(library(pH_10_min=low, pH_10_max=high)).outside
    edge = high if low is None else low
    assert (check.material, check.low, check.high) == ("acid", low, high)
    assert check.distance == pytest.approx(abs(check.computed - edge))


def test_gaps_are_listed_with_the_materials_that_they_concern():
    report = check_library(library())
    assert [(gap.name, gap.materials) for gap in report.unknown_charge] == [("Leaf Extract", ("leaf",))]
    assert [gap.name for gap in report.missing_mildness] == ["Decyl Glucoside"]
    assert [gap.name for gap in report.missing_natural_origin] == ["Citric Acid", "Decyl Glucoside"]
    assert "materials acid" in report.unsourced
    assert "materials glucoside" not in report.unsourced
    assert "substances Citric Acid" not in report.unsourced


def test_trust_of_a_column_wins_over_that_of_its_rows():
    trust = {(entry.table, entry.column): entry.numbers for entry in check_library(library()).trust}
    assert trust["materials", "price"] == {"invented": 4}
    assert trust["materials", "natural_origin"] == {"not stated": 1}


def test_substances_that_nothing_contains():
    bare = tiny_library([{"id": "gum"}], [{"inci": "Retired Gum"}])
    assert check_library(bare).unused_substances == ("Retired Gum",)


def test_counts():
    counts = check_library(library()).counts
    assert (counts["materials"], counts["substances"], counts["parts of compositions"]) == (4, 4, 6)


def test_faults_are_part_of_the_report(tmp_path):
    report = report_on(tmp_path)
    assert report.counts is None
    assert any(fault.file.endswith("library.toml") for fault in report.faults)


def test_starter_library_has_no_faults():
    report = report_on()
    assert report.faults == ()
    assert report.counts["materials"] > 50


def specification(**fields):
    contents = [{"inci": "Citric Acid", "percent": 5.0}]
    return {
        "id": "buffer",
        "name": "Buffer",
        "function": "other",
        "price": 1.0,
        "contents": contents,
        **fields,
    }


@pytest.mark.parametrize("pH", [2.5, 4.0, 5.0])
def test_free_alkali_brings_the_computed_pH_to_the_measured_one(pH):
    held = library()
    added = with_free_alkali(held, new_material(held, specification(pH_10_min=pH, pH_10_max=pH)), pH)
    from optiform.library.adding import joined

    (check,) = check_library(joined(held, added)).acidity
    assert check.computed == pytest.approx(pH, abs=1e-3)


def test_free_alkali_of_half_neutralised_citric_acid():
    """At pH = pKa2 (activity aside) citric acid has lost 1.5 protons: 5 % is 260 mmol/kg, so about 390."""
    held = library()
    alkali = free_alkali_of(held, new_material(held, specification()), 4.55)
    assert alkali == pytest.approx(1.5 * 50 / 192.12 * 1000, rel=0.06)


def test_pH_that_the_composition_cannot_explain():
    held = library()
    added = new_material(held, specification())
    for pH in (13.5, 15.0, -1.0):
        with pytest.raises(BadInput):
            free_alkali_of(held, added, pH)
