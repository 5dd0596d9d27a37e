"""A brief does without a guard of its library by naming it, and says so."""

from __future__ import annotations

import pytest

from optiform.brief import brief_from
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.models import PreservativeSystem, When
from optiform.library.waiving import guard_names, waive


def guarded():
    library = load_library(None)
    system = PreservativeSystem(
        name="salts",
        members={"sodium-benzoate": (0.4, 0.5)},
        pH=(4.0, 5.0),
        margin=0.3,
        undissociated_at_least={"Sodium Benzoate": 0.02},
    )
    rule = When(name="little salt", material="carbomer", measure="electrolyte", at_most=0.2)
    rules = library.rules.model_copy(update={"when": (rule, *library.rules.when)})
    return library.model_copy(update={"systems": (system,), "rules": rules})


def test_names_are_those_of_rules_and_of_what_systems_ask_beside_their_doses():
    assert {"little salt", "margin of salts", "undissociated acid of salts"} <= set(guard_names(guarded()))


def test_what_is_waived_is_gone_and_nothing_else_is():
    library = guarded()
    left = waive(library, {"little salt", "margin of salts"})
    assert "little salt" not in {rule.name for rule in left.rules.when}
    assert len(left.rules.when) == len(library.rules.when) - 1
    assert left.systems[0].margin is None
    assert left.systems[0].undissociated_at_least == {"Sodium Benzoate": 0.02}
    assert library.systems[0].margin == 0.3


def test_a_brief_waives_by_name_and_says_so():
    asked = {
        "title": "Nettle wash",
        "targets": {"active matter": {"at_least": 5.0}},
        "waive": [{"rule": "margin of salts"}],
    }
    brief = brief_from(asked, guarded())
    assert brief.library.systems[0].margin is None
    assert any("margin of salts" in note for note in brief.notes)


def test_a_name_that_is_no_guard_is_a_fault_with_the_nearest():
    asked = {
        "title": "Nettle wash",
        "targets": {"active matter": {"at_least": 5.0}},
        "waive": [{"rule": "margin of salt"}],
    }
    with pytest.raises(BadInput) as bad:
        brief_from(asked, guarded())
    assert "margin of salts" in str(bad.value)
