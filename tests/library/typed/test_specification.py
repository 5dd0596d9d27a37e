"""A specification as somebody typed it."""

import pytest

from optiform.faults import BadInput
from optiform.library.typed.specification import typed_specification


def test_words_become_keys_and_what_was_not_given_is_left_out():
    keys = typed_specification(
        {"id": "x", "name": None, "price": 3.2},
        contents=["Decyl Glucoside=50:48:52", "Citric Acid=0.2"],
        columns=["phase=surfactant", "density = 1.07", "handling=dust gentle", "acid_demand=2.5"],
        own_columns=["acid_demand"],
    )
    assert keys == {
        "id": "x",
        "price": 3.2,
        "phase": "surfactant",
        "density": 1.07,
        "handling": ("dust", "gentle"),
        "extra": {"acid_demand": 2.5},
        "contents": [
            {"inci": "Decyl Glucoside", "percent": 50.0, "low": 48.0, "high": 52.0},
            {"inci": "Citric Acid", "percent": 0.2},
        ],
    }


def test_what_is_typed_overrules_the_file(tmp_path):
    file = tmp_path / "spec.toml"
    file.write_text('id = "y"\nprice = 1.0\n[[new_substances]]\ninci = "New"\n')
    keys = typed_specification({"id": "x", "price": None}, file=file)
    assert keys == {"id": "x", "price": 1.0, "new_substances": [{"inci": "New"}]}


@pytest.mark.parametrize("text", ["Aqua", "=3", "Aqua=", "Aqua=x", "Aqua=1:2", "Aqua=1,5"])
def test_a_content_that_cannot_be_read_is_named(text):
    with pytest.raises(BadInput, match="cannot be read; allowed: INCI=percent"):
        typed_specification({}, contents=[text])


def test_every_fault_comes_at_once(tmp_path):
    with pytest.raises(BadInput) as caught:
        typed_specification({}, contents=["Aqua"], columns=["phase"], file=tmp_path / "nowhere.toml")
    assert len(caught.value.faults) == 3
