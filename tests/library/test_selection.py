"""Words become materials in one place."""

import pytest

from optiform.library.selection import Selection, parse_reference, reference_problem, resolve, select
from tests.builders import tiny_library

LIBRARY = tiny_library(
    [
        {"id": "sles", "function": "surfactant", "tags": ("palm?",)},
        {"id": "betaine", "function": "surfactant", "also": ("conditioner",), "tags": ("coconut",)},
        {"id": "gum", "function": "thickener"},
        {"id": "blend", "function": "other", "tags": ("palm",)},
    ],
    [
        {"inci": "Sodium Laureth Sulfate", "charge_class": "anionic", "tags": ("sulfate", "palm?")},
        {"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric", "tags": ("palm?",)},
    ],
    {
        "sles": {"Sodium Laureth Sulfate": 28.0},
        "betaine": {"Cocamidopropyl Betaine": 30.0, "Sodium Laureth Sulfate": 0.0},
        "blend": {"Sodium Laureth Sulfate": 10.0, "Cocamidopropyl Betaine": 10.0},
    },
)


@pytest.mark.parametrize(
    ("text", "parsed"),
    [
        ("gum", ("material", "gum")),
        ("material:gum", ("material", "gum")),
        ("function: oil", ("function", "oil")),
        ("substance:PEG-40 Hydrogenated Castor Oil", ("substance", "PEG-40 Hydrogenated Castor Oil")),
        ("odd:word", ("odd", "word")),
    ],
)
def test_references_are_split_into_kind_and_word(text, parsed):
    assert parse_reference(text) == parsed


@pytest.mark.parametrize(
    ("text", "materials"),
    [
        ("gum", ("gum",)),
        ("function:surfactant", ("sles", "betaine")),
        ("function:conditioner", ("betaine",)),
        ("function:oil", ()),
        ("substance:Sodium Laureth Sulfate", ("sles", "blend")),
        ("substance:Aqua", ("water", "sles", "betaine", "blend")),
        ("tag:sulfate", ("sles", "blend")),
        ("tag:coconut", ("betaine",)),
        ("nothing", ()),
        ("odd:word", ()),
    ],
)
def test_resolve(text, materials):
    assert resolve(text, LIBRARY) == materials


def test_may_contain_is_a_state_of_its_own():
    """A material whose own tag is sure is not in doubt because of a substance."""
    assert select(LIBRARY, "tag", "palm") == Selection(sure=("blend",), maybe=("sles", "betaine"))


def test_substance_within_the_specification_but_not_counted_is_in_doubt():
    parts = tuple(
        part.model_copy(update={"high": 0.1}) if part.percent == 0 else part for part in LIBRARY.parts
    )
    library = LIBRARY.model_copy(update={"parts": parts})
    assert select(library, "substance", "Sodium Laureth Sulfate") == Selection(
        ("sles", "blend"), ("betaine",)
    )
    assert select(library, "tag", "sulfate").maybe == ("betaine",)


def test_house_tags_are_known_even_where_nothing_has_them():
    assert reference_problem(LIBRARY, "tag:silicone") is None
    assert reference_problem(LIBRARY, "tag:silicon") is not None


def test_changed_library_selects_anew():
    gum = LIBRARY.material["gum"].model_copy(update={"function": "oil"})
    materials = tuple(gum if material.id == "gum" else material for material in LIBRARY.materials)
    assert resolve("function:oil", LIBRARY) == ()
    changed = LIBRARY.model_copy(update={"materials": materials})
    assert resolve("function:oil", changed) == ("gum",)
    assert changed.material["gum"].function == "oil"
