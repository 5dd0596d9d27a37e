"""Typed formulas: read tolerantly, every fault named."""

import pytest

from optiform.faults import BadInput
from optiform.library.formulas import read_formula
from tests.builders import tiny_library
from tests.library.on_disk import write_xlsx

LIBRARY = tiny_library(
    [
        {"id": "betaine", "function": "surfactant"},
        {"id": "xanthan-gum", "name": "Xanthan gum"},
        {"id": "glycerin"},
    ]
)


def read(tmp_path, text, name="today.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return read_formula(path, LIBRARY)


def faults(tmp_path, text):
    with pytest.raises(BadInput) as caught:
        read(tmp_path, text)
    return [(fault.place, fault.message, fault.nearest) for fault in caught.value.faults]


def test_percents(tmp_path):
    formula = read(tmp_path, "material,percent\nbetaine,20\nglycerin,3.5\nwater,76.5\n")
    assert formula.lines == (("betaine", 20.0), ("glycerin", 3.5), ("water", 76.5))
    assert (formula.name, formula.total, formula.grams, formula.notes) == ("today", 100.0, None, ())
    assert formula.amounts["glycerin"] == 3.5


@pytest.mark.parametrize("mark", ["q.s.", "qs", "QS", "q.s", "q. s.", "q.s. to 100", "q.s. ad 100 %"])
def test_one_line_may_be_the_rest(tmp_path, mark):
    formula = read(tmp_path, f"material,percent\nwater,{mark}\nbetaine,20.3\nglycerin,3.4\n")
    assert formula.amounts["water"] == 76.3
    assert formula.total == 100.0
    assert "q.s." in formula.notes[0]


@pytest.mark.parametrize("rows", [["betaine,113"], ["betaine,40", "water,40"], ["water,100.01"]])
def test_a_total_off_100_is_taken_as_typed(tmp_path, rows):
    formula = read(tmp_path, "\n".join(["material,percent", *rows]))
    assert formula.total == sum(float(row.split(",")[1]) for row in rows)


def test_grams_become_percents(tmp_path):
    formula = read(tmp_path, "material,grams\nbetaine,50\nwater,200\n")
    assert formula.lines == (("betaine", 20.0), ("water", 80.0))
    assert (formula.grams, formula.total) == (250.0, 100.0)


def test_percent_sign_and_columns_for_the_reader(tmp_path):
    formula = read(tmp_path, "phase,material,name,percent,note\nA,betaine,Betaine,20 %,stir\nA,water,,80%,\n")
    assert formula.amounts == {"betaine": 20.0, "water": 80.0}


def test_lines_of_one_material_are_added_with_a_note(tmp_path):
    formula = read(tmp_path, "material,percent\nbetaine,10\nwater,q.s.\nbetaine,2.5\nwater,5\n")
    assert formula.lines == (("betaine", 12.5), ("water", 87.5))
    assert formula.notes[0] == "betaine stands in rows 2, 4; the amounts are added"


def test_every_fault_at_once(tmp_path):
    rows = [
        "betain,20",
        "Xanthan Gun,0.4",
        "glycerin,-1",
        "water,q.s.",
        'betaine,"2,5"',
        "water,qs",
        ",3",
        "glycerin,",
    ]
    text = "\n".join(["material,percent", *rows])
    assert faults(tmp_path, text) == [
        ("row 2, column material", "there is no material 'betain' in the library", "betaine"),
        ("row 3, column material", "there is no material 'Xanthan Gun' in the library", "xanthan-gum"),
        ("row 4, column percent", "-1 is below 0", ""),
        ("row 6, column percent", "'2,5' has a decimal comma", "2.5"),
        ("row 7, column percent", "q.s. stands already in row 5", ""),
        ("row 8, column material", "the cell is empty", ""),
        ("row 9, column percent", "the cell is empty", ""),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "material,percent\nbetaine,120\nwater,q.s.\n",
            "nothing is left for q.s.: the other lines add to 120 %",
        ),
        ("material,grams\nbetaine,120\nwater,q.s.\n", "q.s. has no meaning among grams"),
        ("material,grams\nbetaine,0\n", "the grams add to nothing"),
        ("material,percent,grams\nbetaine,1,1\n", "the grams are 100 % of the batch, the percent says 1"),
        ("material\nbetaine\n", "no amounts are given"),
        ("material,percent\n", "the formula has no lines"),
        ("", "the file is empty"),
        ("material,percent\nbetaine,nan\n", "'nan' is not a number"),
    ],
)
def test_formulas_that_are_none(tmp_path, text, message):
    assert [found for _, found, _ in faults(tmp_path, text)] == [message]


def test_missing_file(tmp_path):
    with pytest.raises(BadInput, match="cannot be read"):
        read_formula(tmp_path / "none.csv", LIBRARY)


def test_workbook(tmp_path):
    first = write_xlsx(
        tmp_path / "a.xlsx", {"Tabelle1": [["material", "percent"], ["betaine", 20], ["water", "q.s."]]}
    )
    assert read_formula(first, LIBRARY).amounts == {"betaine": 20.0, "water": 80.0}
    named = {"notes": [["#REF!"]], "formula": [["material", "grams"], ["betaine", 1], ["water", 3]]}
    assert read_formula(write_xlsx(tmp_path / "b.xlsx", named), LIBRARY).amounts == {
        "betaine": 25.0,
        "water": 75.0,
    }


def test_a_cell_that_was_never_calculated_is_one_fault(tmp_path):
    """A spreadsheet formula without a value is not called an empty cell as well."""
    rows = [["material", "grams"], ["water", 90], ["betaine", "=5+5"]]
    with pytest.raises(BadInput) as caught:
        read_formula(write_xlsx(tmp_path / "c.xlsx", {"Sheet": rows}), LIBRARY)
    (fault,) = caught.value.faults
    assert "never calculated" in fault.message


PAPER = tiny_library(
    [
        {"id": "betaine-30", "name": "Quay betaine, 30 %", "function": "surfactant"},
        {"id": "betaine-38", "name": "Quay betaine, 38 %", "function": "surfactant"},
        {"id": "glycerin", "name": "Glycerin, 99.5 %"},
        {"id": "linden-extract", "name": "Linden extract in glycerin"},
    ],
    [{"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric"}],
    parts={
        "betaine-30": {"Cocamidopropyl Betaine": 30, "Sodium Chloride": 5},
        "betaine-38": {"Cocamidopropyl Betaine": 38},
        "glycerin": {"Glycerin": 99.5},
        "linden-extract": {"Glycerin": 50, "Tilia Cordata Flower Extract": 3},
    },
)


def paper(tmp_path, text, name="paper.csv", **more):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return read_formula(path, PAPER, **more)


@pytest.mark.parametrize(
    "text",
    [
        "Ingredient,%\nGLYCERIN,3.5\nLinden Extract,1\nWater,95.5\n",
        "INCI;% w/w\nglycerin;3,5\nLinden extract in glycerin;1\nAQUA;95,5\n",
        "Name\tPercent\nGlycerin 99.5%\t3,5 %\nlinden_extract\t1\naqua\tto 100\n",
        "material;g\nGlycerin, 99.5 %;35 g\nlinden-extract;10\nwater;0,955 kg\n",
    ],
)
def test_names_separators_headings_and_amounts_as_people_type_them(tmp_path, text):
    """The same formula on four slips of paper: 3.5 % glycerin, 1 % extract, water to 100."""
    found = paper(tmp_path, text)
    assert found.amounts == pytest.approx({"glycerin": 3.5, "linden-extract": 1.0, "water": 95.5})
    assert found.total == pytest.approx(100.0)


def test_what_was_matched_to_what_is_told(tmp_path):
    found = paper(tmp_path, "INCI,%\nGlycerin,5\nwater,q.s.\n")
    assert [(match.typed, match.material, match.by) for match in found.matched] == [
        ("Glycerin", "glycerin", "INCI")
    ]
    assert found.notes[0] == "Read 'Glycerin' as Glycerin, 99.5 % (glycerin)."


@pytest.mark.parametrize("name", ["Cocamidopropyl Betaine", "quay betaine", "cocamidopropyl-betaine"])
def test_a_name_that_could_be_two_materials_is_asked_about(tmp_path, name):
    with pytest.raises(BadInput) as caught:
        paper(tmp_path, f"name,%\n{name},20\nwater,80\n")
    (fault,) = caught.value.faults
    assert fault.message == f"'{name}' could be 2 materials"
    assert fault.allowed == "one of betaine-30 (Quay betaine, 30 %); betaine-38 (Quay betaine, 38 %)"


def test_a_second_column_of_names_decides_between_two(tmp_path):
    text = "name;INCI;%\nQuay betaine 38 %;Cocamidopropyl Betaine;20\nwater;Aqua;80\n"
    assert paper(tmp_path, text).amounts == {"betaine-38": 20.0, "water": 80.0}


def test_a_near_miss_is_suggested(tmp_path):
    with pytest.raises(BadInput, match="did you mean 'glycerin'"):
        paper(tmp_path, "name,%\nGlycerine,20\nwater,80\n")


def test_points_among_decimal_commas_are_refused(tmp_path):
    """1.250 among 3,5: a thousand and more, or little more than one?"""
    with pytest.raises(BadInput, match="has a point, and other amounts have a decimal comma"):
        paper(tmp_path, "name;g\nglycerin;3,5\nwater;1.250\n")


def test_percents_with_their_grams_beside_them(tmp_path):
    """2 % of 500 g are 10 g: agreeing figures are read, others are asked about."""
    assert paper(tmp_path, "name,%,g\nglycerin,2,10\nwater,98,490\n").amounts["glycerin"] == 2.0
    with pytest.raises(BadInput, match="the grams are 3 % of the batch, the percent says 2"):
        paper(tmp_path, "name,%,g\nglycerin,2,15\nwater,98,485\n")


def test_one_of_several_ranked_formulas(tmp_path):
    text = "rank,material,name,percent,cost\n1,glycerin,,5,\n1,water,,95,\n2,betaine-30,,10,\n2,water,,90,\n"
    assert paper(tmp_path, text).amounts == {"glycerin": 5.0, "water": 95.0}
    second = paper(tmp_path, text, rank=2)
    assert (second.amounts, second.name) == ({"betaine-30": 10.0, "water": 90.0}, "paper, formula 2")
    with pytest.raises(BadInput, match="there is no formula 3; allowed: 1, 2"):
        paper(tmp_path, text, rank=3)
    with pytest.raises(BadInput, match="holds one formula"):
        paper(tmp_path, "name,%\nwater,100\n", rank=1)


def test_a_stock_solution_of_a_weighed_batch_is_taken_apart(tmp_path):
    """10 g of a 20 % solution in 100 g: 2 % of the material, 8 % water."""
    text = "material,grams,percent,solution_percent\nglycerin,10,10,20\nwater,90,90,\n"
    assert paper(tmp_path, text).amounts == {"glycerin": 2.0, "water": 98.0}
