"""What must hold between the tables of a library."""

import pytest

from optiform.library import load_library
from optiform.library.checking.checks import faults_of
from tests.builders import tiny_library
from tests.library.on_disk import COMPOSITION, MATERIALS, SUBSTANCES, faults_in, only_fault, write_folder

TITRATION = "material,pH,acid_mmol_per_kg,lot\nbetaine,4,120,L1\nbetaine,6,20,L1\nbetaine,8,-5,L1\n"


def test_composition_that_does_not_add_to_100(tmp_path):
    fault = only_fault(write_folder(tmp_path, composition=COMPOSITION.replace("Aqua,70", "Aqua,69.5")))
    assert (fault.place, fault.allowed) == ("row 5, column percent", "100 %")
    assert fault.message == "the composition of 'betaine' adds to 99.5 %"


def test_composition_is_compared_within_a_millionth(tmp_path):
    thirds = COMPOSITION.replace("Aqua,70", "Aqua,69.9999999")
    assert load_library(write_folder(tmp_path / "near", composition=thirds))
    assert faults_in(
        write_folder(tmp_path / "far", composition=COMPOSITION.replace("Aqua,70", "Aqua,69.99999"))
    )


def test_sum_is_not_judged_where_a_part_could_not_be_read(tmp_path):
    fault = only_fault(write_folder(tmp_path, composition=COMPOSITION.replace("Aqua,70", "Aqua,most")))
    assert fault.place == "row 6, column percent"


def test_material_without_composition(tmp_path):
    text = COMPOSITION.replace("gum,Xanthan Gum,100,,\n", "")
    fault = only_fault(write_folder(tmp_path, composition=text))
    assert (fault.place, fault.message) == ("row 5, column id", "the material 'gum' has no composition")


def test_unknown_material_and_substance_in_the_composition(tmp_path):
    text = COMPOSITION.replace("betaine,Aqua", "betain,Aqua").replace("Citric Acid", "Citrique Acid")
    total, material, substance = faults_in(write_folder(tmp_path, composition=text))
    assert total.message == "the composition of 'betaine' adds to 30 %"
    assert (material.place, material.nearest) == ("row 6, column material", "betaine")
    assert (substance.place, substance.nearest) == ("row 8, column inci", "Citric Acid")


def test_repeated_ids_names_and_pairs(tmp_path):
    folder = write_folder(
        tmp_path,
        materials=MATERIALS + "gum,Another gum,thickener,9,0,2,,,\n",
        substances=SUBSTANCES + "aqua,,,,0,0,18.015,\n",
        composition=COMPOSITION.replace("betaine,Aqua,70,,", "betaine,Aqua,30,,\nbetaine,Aqua,40,,"),
    )
    assert [(fault.place, fault.message) for fault in faults_in(folder)] == [
        ("row 7, column id", "'gum' stands already in row 5"),
        ("row 7, column inci", "'aqua' stands already in row 2"),
        ("row 7, column inci", "'betaine / Aqua' stands already in row 6"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ("40,4,9,", "40,9,4,", "row 4, column pH_min", "pH_min 9 is above pH_max 4"),
        ("14,0.1,2,", "14,3,2,", "row 5, column min_if_used", "min_if_used 3 is above max_use 2"),
    ],
)
def test_crossed_windows_of_materials(tmp_path, old, new, place, message):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace(old, new)))
    assert (fault.place, fault.message) == (place, message)


def test_crossed_pH_window_at_ten_percent():
    library = tiny_library([{"id": "soap", "pH_10_min": 10.0, "pH_10_max": 9.0}])
    (fault,) = faults_of(library)
    assert (fault.place, fault.message) == ("entry 2, pH_10_min", "pH_10_min 10 is above pH_10_max 9")


def test_crossed_specification_limits(tmp_path):
    text = COMPOSITION.replace("30,28,32", "30,31,32").replace("5,4,6", "5,4,4.5")
    high, low = faults_in(write_folder(tmp_path, composition=text))
    assert (high.place, high.message) == ("row 3, column percent", "percent 5 is above high 4.5")
    assert (low.place, low.message) == ("row 5, column low", "low 31 is above percent 30")


def test_no_water(tmp_path):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace("Water,water,", "Water,other,")))
    assert (fault.place, fault.allowed) == ("column function", "exactly one")


def test_two_waters(tmp_path):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace(",extract,8", ",water,8")))
    assert fault.place == "row 3, column function"
    assert "row 2" in fault.message


def test_titration_that_falls_is_read(tmp_path):
    folder = write_folder(tmp_path, titration=TITRATION)
    assert [point.acid_mmol_per_kg for point in load_library(folder).titrations] == [120.0, 20.0, -5.0]


@pytest.mark.parametrize(
    ("old", "new", "place", "part"),
    [
        ("6,20", "6,130", "row 3, column acid_mmol_per_kg", "takes 130 mmol/kg at pH 6 but 120 at pH 4"),
        ("6,20", "6,120", "row 3, column acid_mmol_per_kg", "takes 120 mmol/kg"),
        ("8,-5", "6,10", "row 4, column acid_mmol_per_kg", "at pH 6"),
        ("8,-5,L1", "8,-5,L2", "row 2", "mixes 2 lots"),
        ("betaine,4", "betain,4", "row 2, column material", "no material 'betain'"),
    ],
)
def test_titrations_that_are_none(tmp_path, old, new, place, part):
    faults = faults_in(write_folder(tmp_path, titration=TITRATION.replace(old, new)))
    assert (faults[0].place, part in faults[0].message) == (place, True)


def test_titration_of_one_point(tmp_path):
    text = "\n".join(TITRATION.splitlines()[:2])
    assert "single point" in only_fault(write_folder(tmp_path, titration=text)).message


def test_trials_and_packs_of_unknown_materials(tmp_path):
    folder = write_folder(
        tmp_path,
        trials="base,material,percent,mPa_s\nbetaine base,gumm,0.5,900\n",
        packs="material,size_g,price\nnettel,100,2\n",
    )
    assert [(fault.place, fault.nearest) for fault in faults_in(folder)] == [
        ("row 2, column material", "gum"),
        ("row 2, column material", "nettle"),
    ]


def test_nearest_name_is_found_among_many(tmp_path):
    rows = "".join(f"substance {i},,,,,,,\n" for i in range(2000))
    text = COMPOSITION.replace("Urtica Dioica Leaf Extract", "Urtica Diocia Leaf Extract")
    fault = only_fault(write_folder(tmp_path, substances=SUBSTANCES + rows, composition=text))
    assert fault.nearest == "Urtica Dioica Leaf Extract"


def test_a_tiny_library_is_sound():
    assert faults_of(tiny_library([{"id": "gum"}], parts={"gum": {"Xanthan Gum": 90.0}})) == ()
