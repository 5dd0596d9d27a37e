"""Masses as people write them; a comma that may part thousands is never guessed at."""

import pytest

from optiform.faults import BadInput
from optiform.library.files.columns import two_readings
from optiform.library.typed.masses import read_mass


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("2kg", 2000.0),
        ("2,5 kg", 2500.0),
        ("0,500kg", 500.0),
        ("1,25 g", 1.25),
        ("1.500g", 1.5),
        ("40 mg", 0.04),
    ],
)
def test_a_mass_with_its_unit_is_read(text, grams):
    assert read_mass(text, "--batch") == pytest.approx(grams)


@pytest.mark.parametrize("text", ["1,500g", "2,500 kg", "12,000g"])
def test_what_may_be_a_thousand_times_as_much_is_asked_about(text):
    with pytest.raises(BadInput, match="could be"):
        read_mass(text, "--batch")


def test_both_readings_are_told():
    assert two_readings(" 1,660 ") == ("1660", "1.660")
    assert [two_readings(text) for text in ("0,500", "1,66", "1660", "1,6600", "1.660")] == [None] * 5
