"""A structure that fails at its own ionic strength makes room for the next one in the list."""

from __future__ import annotations

from functools import cache

import pytest

from optiform import check, design
from optiform.brief import brief_from
from tests.smell.corpus import keys_of, shuffled

CASE = ("scalp-hair", "conditioning-slip", "US", 3)
"""At these prices the first structure holds its pH at the ranking's ionic strength, 1.08 mol/kg, and not at its own."""


@cache
def designed(how_many):
    keys = keys_of(CASE)
    keys["targets"] = {**keys["targets"], "mildness": {"at_least": 88.65}}
    keys["ranked"]["how_many"] = how_many
    return design(brief_from(keys, shuffled(3)))


@pytest.mark.parametrize("how_many", [1, 3])
def test_the_list_is_as_long_as_was_asked(how_many):
    answer = designed(how_many)
    assert answer.status == "solved" and answer.brief.ranked.how_many == how_many
    assert [formula.rank for formula in answer.formulas] == list(range(1, how_many + 1))
    assert any(note.startswith("Left out: 1 ") for note in answer.notes)


def test_check_finds_what_design_lists():
    answer = designed(3)
    assert check(answer.brief).formulas[0].cost == pytest.approx(answer.formulas[0].cost, abs=1e-9)
