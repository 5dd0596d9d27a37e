"""Values of a library are frozen, hashable and aligned by id."""

import pickle

import numpy as np
import pytest
from pydantic import ValidationError

from optiform.library.models import Library, Material, Trust
from tests.builders import tiny_library

PARTS = {"betaine": {"Cocamidopropyl Betaine": 30.0, "Sodium Chloride": 5.0}}


def test_values_are_frozen_and_finite():
    library = tiny_library([{"id": "gum"}])
    with pytest.raises(ValidationError):
        library.name = "other"
    with pytest.raises(ValidationError):
        Material(id="gum", name="Gum", function="thickener", price=float("inf"))


def test_equal_libraries_have_equal_hashes():
    one, two = tiny_library([{"id": "gum"}]), tiny_library([{"id": "gum"}])
    assert one == two
    assert hash(one) == hash(two)
    assert one != tiny_library([{"id": "gum", "price": 2.0}])
    assert {one: "built"}[two] == "built"


def test_what_was_derived_does_not_leak_into_a_changed_library():
    library = tiny_library([{"id": "gum"}])
    assert (library.arrays.price[1], library.material["gum"].price) == (1.0, 1.0)
    materials = (library.water, Material(id="gum", name="Gum", function="thickener", price=9.0))
    changed = library.model_copy(update={"materials": materials})
    assert (changed.arrays.price[1], changed.material["gum"].price) == (9.0, 9.0)


def test_percent_becomes_mass_fraction_once():
    library = tiny_library([{"id": "betaine"}], parts=PARTS)
    arrays = library.arrays
    assert arrays.materials == ("water", "betaine")
    assert arrays.substances == ("Aqua", "Cocamidopropyl Betaine", "Sodium Chloride")
    amounts = arrays.amounts([("betaine", 20.0), ("water", 80.0)])
    np.testing.assert_allclose(arrays.substance_percent(amounts), [93.0, 6.0, 1.0])
    np.testing.assert_allclose(arrays.per_material(np.array([0.0, 1.0, 0.0])), [0.0, 0.3])
    assert list(arrays.has_substance(np.array([False, False, True]))) == [False, True]


def test_trust_is_ordered_from_firm_to_weak():
    assert sorted(Trust, key=lambda trust: trust.rank) == [
        Trust.OWN,
        Trust.PUBLISHED,
        Trust.COMMON_PRACTICE,
        Trust.MEMORY,
        Trust.ESTIMATE,
        Trust.INVENTED,
    ]


def test_a_material_without_parts_has_an_empty_composition():
    library = tiny_library([{"id": "gum"}])
    bare = Library(name="bare", substances=library.substances, materials=library.materials, parts=())
    assert bare.composition == {"water": (), "gum": ()}


def test_what_was_worked_out_of_a_library_does_not_travel():
    """A library is sent to other processes after work was done with it here; what is kept beside it need not travel."""
    library = tiny_library([{"id": "betaine"}], parts=PARTS)
    library.arrays.cache["kept"] = lambda: None
    assert library.material and library.selections
    there = pickle.loads(pickle.dumps(library))
    assert there == library
    assert "arrays" not in vars(there)
    assert there.arrays.materials == library.arrays.materials
