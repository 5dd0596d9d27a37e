"""What-if libraries are new values; what they do not change is shared."""

import pytest
from pydantic import ValidationError

from optiform.faults import BadInput
from optiform.library.models import Trust
from optiform.library.overrides import only, read_prices, read_shelf, with_prices
from tests.builders import tiny_library

LIBRARY = tiny_library(
    [{"id": "betaine", "price": 3.0, "stock_g": 900.0}, {"id": "gum", "price": 14.0}],
    trust={"price": Trust.INVENTED},
)


def write(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def test_prices_are_replaced_in_a_new_library():
    arrays = LIBRARY.arrays
    dearer = with_prices(LIBRARY, {"gum": 20.0})
    assert dearer.material["gum"].price == 20.0
    assert list(dearer.arrays.price) == [0.0, 3.0, 20.0]
    assert LIBRARY.material["gum"].price == 14.0
    assert LIBRARY.arrays is arrays
    assert dearer.material["betaine"] is LIBRARY.material["betaine"]
    assert dearer.parts[0] is LIBRARY.parts[0]
    assert dearer != LIBRARY


def test_prices_are_the_users_own_once_all_of_them_are_replaced():
    assert with_prices(LIBRARY, {"gum": 20.0}).trust["price"] is Trust.INVENTED
    assert with_prices(LIBRARY, {"gum": 20.0, "betaine": 2.0}).trust["price"] is Trust.OWN


def test_programs_cannot_set_what_a_file_could_not():
    with pytest.raises(KeyError):
        with_prices(LIBRARY, {"gumm": 1.0})
    for price in (-1.0, float("nan")):
        with pytest.raises(ValidationError):
            with_prices(LIBRARY, {"gum": price})
    with pytest.raises(KeyError):
        only(LIBRARY, {"gumm": 1.0})


def test_shelf_keeps_every_material_and_says_what_is_there():
    held = only(LIBRARY, {"gum": 50.0})
    assert [(material.id, material.stock_g) for material in held.materials] == [
        ("water", None),
        ("betaine", 0.0),
        ("gum", 50.0),
    ]


def test_price_file(tmp_path):
    path = write(tmp_path / "prices.csv", "material,price\ngum,20.5\n")
    assert with_prices(LIBRARY, read_prices(path, LIBRARY)).material["gum"].price == 20.5


def test_shelf_file_blank_is_enough_and_zero_is_nothing(tmp_path):
    path = write(tmp_path / "shelf.csv", "material,stock_g\ngum,\nbetaine,0\n")
    shelf = read_shelf(path, LIBRARY)
    library = only(LIBRARY, shelf)
    assert shelf == {"gum": None}
    assert library.material["betaine"].stock_g == 0.0
    assert library.material["gum"].stock_g is None


def test_every_fault_of_a_price_file(tmp_path):
    path = write(tmp_path / "prices.csv", 'material,price\ngumm,20\nbetaine,"3,2"\ngum,-1\ngum,2\n')
    with pytest.raises(BadInput) as caught:
        read_prices(path, LIBRARY)
    assert [(fault.place, fault.nearest) for fault in caught.value.faults] == [
        ("row 2, column material", "gum"),
        ("row 3, column price", "3.2"),
        ("row 4, column price", ""),
        ("row 5, column material", ""),
    ]


def test_shelf_file_with_a_wrong_column(tmp_path):
    with pytest.raises(BadInput, match="stock_g"):
        read_shelf(write(tmp_path / "shelf.csv", "material,stock\ngum,1\n"), LIBRARY)
