"""How faults are told: short, a limited number, and never with what steers a terminal."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from optiform.faults import ECHOED, GATHERED, TOLD, BadInput, Fault, Faults, listed, nearest, printable, shown
from tests.fuzz.workshop import steering


def test_a_long_value_is_cut_to_eighty_characters():
    assert Fault("a.csv", "row 2", f"'{'x' * 5000}' is not known").message == f"'{'x' * 77}...' is not known"
    assert len(shown("x" * 5000)) == len(shown([1] * 5000)) == ECHOED
    assert shown(10**5000) == "a value too large to be shown"
    assert Fault("", "", f"'{'y' * 70}' is not known").message == f"'{'y' * 70}' is not known"


def test_fifty_faults_are_listed_and_the_rest_counted():
    faults = [Fault("a.csv", f"row {row}", "wrong") for row in range(2, 1302)]
    lines = listed(faults)
    assert len(lines) == TOLD + 1
    assert lines[-1] == "and 1,250 more"
    assert str(BadInput(faults)).endswith("and 1,250 more")
    assert len(listed(faults[:TOLD])) == TOLD


def test_a_file_in_which_everything_is_wrong_is_not_read_to_its_end():
    faults = Faults("a.csv")
    with pytest.raises(BadInput) as caught:
        for row in range(10 * GATHERED):
            faults.add(f"row {row}", "wrong")
    assert listed(caught.value.faults)[-1] == f"and at least {GATHERED - TOLD:,} more"


@given(some.text() | some.text(some.characters(max_codepoint=0x9F)))
def test_nothing_printable_steers_a_terminal(text):
    assert steering(printable(text)) == ""
    assert printable(printable(text)) == printable(text)


def test_what_is_printable_stays_and_the_rest_stands_as_its_number():
    assert printable("Sea buckthorn, 30 %\nÄpfel \N{HERB}") == "Sea buckthorn, 30 %\nÄpfel \N{HERB}"
    assert printable("a\x1b[31m\x07\r\t\u202e\ud800") == "a\\x1b[31m\\x07\\x0d \\u202e\\ud800"


def test_a_name_that_is_only_begun_is_completed():
    known = ("decyl-glucoside", "decyl-glucoside-dried", "coco-glucoside", "cost")
    assert nearest("decyl", known) == "decyl-glucoside"
    assert nearest("glucoside", known) == "coco-glucoside"
    assert nearest("xyz", known) == ""
