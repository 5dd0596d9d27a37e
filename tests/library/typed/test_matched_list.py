"""A price list with names of its own: certain only where one material can be meant."""

import pytest

from optiform.faults import BadInput
from optiform.library.overrides import read_prices
from optiform.library.typed.matched_list import match_list
from optiform.views.data.csv_table import table
from optiform.views.results.materials.match import certain_rows, form_rows, match_blocks
from tests.builders import tiny_library

LIBRARY = tiny_library(
    [
        {"id": "betaine-30", "name": "Quay betaine, 30 %", "function": "surfactant"},
        {"id": "betaine-38", "name": "Quay betaine, 38 %", "function": "surfactant"},
        {"id": "glycerin", "name": "Glycerin, 99.5 %"},
        {"id": "gum", "name": "Xanthan gum"},
    ],
    [{"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric"}],
    parts={
        "betaine-30": {"Cocamidopropyl Betaine": 30, "Sodium Chloride": 5},
        "betaine-38": {"Cocamidopropyl Betaine": 38},
        "glycerin": {"Glycerin": 99.5},
    },
)
LIST = "Product;INCI;EUR/kg\nWash base;Cocamidopropyl Betaine;3,10\nHarbour glycerin;Glycerin;1,80\nquince foamer;;9\n"


def matched(tmp_path, text, name="prices.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return match_list(path, LIBRARY)


def test_one_that_can_be_meant_is_certain_two_are_asked_and_none_is_said(tmp_path):
    base, glycerin, quince = matched(tmp_path, LIST).rows
    assert (base.material, base.alternatives) == ("", ("betaine-30", "betaine-38"))
    assert (glycerin.material, glycerin.value) == ("glycerin", 1.8)
    assert (quince.material, quince.why) == ("", "nothing in the library has this name")


def test_a_form_filled_in_by_hand_is_read_again_and_becomes_a_price_list(tmp_path):
    """Two of three rows with an id, as --prices reads them."""
    form = table(*form_rows(matched(tmp_path, LIST), LIBRARY))
    filled = matched(tmp_path, form.replace("\n,Wash base", "\nbetaine-38,Wash base"), "matches.csv")
    path = tmp_path / "by-id.csv"
    path.write_text(table(*certain_rows(filled)))
    assert read_prices(path, LIBRARY) == {"betaine-38": 3.1, "glycerin": 1.8}


def test_two_rows_for_one_material_are_asked_about(tmp_path):
    rows = matched(tmp_path, "name,price\nglycerin,2\nGlycerin 99.5%,3\n").rows
    assert [(row.material, row.why) for row in rows] == [
        ("", "row 3 means the same material"),
        ("", "row 2 means the same material"),
    ]


def test_a_name_and_an_INCI_name_that_contradict_each_other_are_asked_about(tmp_path):
    (row,) = matched(tmp_path, "name,INCI,price\nXanthan gum,Glycerin,3\n").rows
    assert (row.material, row.alternatives) == ("", ("gum", "glycerin"))


def test_a_shelf_is_matched_as_well(tmp_path):
    found = matched(tmp_path, "ingredient\tstock\nGLYCERIN\t2,5 kg\nXanthan Gum\t\n")
    assert [(row.material, row.value) for row in found.rows] == [("glycerin", 2500.0), ("gum", None)]
    assert found.kind == "stock_g"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,price,stock_g\nglycerin,1,1\n", "both prices and stock"),
        ("name,note\nglycerin,1\n", "no figures are given"),
        ("price\n1\n", "no column names the materials"),
        ("name,price\nglycerin,-1\n", "out of range"),
        ("name,price\nglycerin,dear\n", "is not a number"),
        ("name,price\n", "the list has no rows"),
        ("name,price\n,1\n", "the cell is empty"),
    ],
)
def test_lists_that_are_none(tmp_path, text, said):
    with pytest.raises(BadInput, match=said):
        matched(tmp_path, text)


def test_a_reader_sees_names(tmp_path):
    from optiform.views.render import text

    told = text.render(match_blocks(matched(tmp_path, LIST), LIBRARY), text.Screen())
    assert "1 of 3 rows certainly mean one material" in told
    assert "Glycerin, 99.5 %" in told and "Quay betaine, 38 % (betaine-38)" in " ".join(told.split())
