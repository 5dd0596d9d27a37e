"""The pH limit of a batch record is what brief, preservative system, materials and rules all let pass.

Oracle: intersection of intervals, by hand.
"""

from __future__ import annotations

import pytest

from optiform.brief import brief_from
from optiform.brief.current_formula import CurrentFormula
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.sheets.record.batch_record import limit_of_pH

LINES = (("water", 89.0), ("coco-glucoside", 10.0), ("sodium-benzoate", 0.45), ("potassium-sorbate", 0.25))


def library(margin=0.3):
    """Return the starter library with benzoate and sorbate alone, from 4 to 5 less a margin."""
    whole = load_library(None)
    system = next(s for s in whole.systems if s.name == "benzoate with sorbate")
    changed = system.model_copy(update={"pH": (4.0, 5.0), "margin": margin})
    return whole.model_copy(update={"systems": (changed,)})


def brief(pH, **more):
    targets = {"active matter": {"at_least": 5.0}, **({} if pH is None else {"pH": pH})}
    return brief_from({"title": "Quay wash", "targets": targets, **more}, library())


@pytest.mark.parametrize(
    ("pH", "limit"),
    [
        (None, "4.3 to 4.7"),
        ({"at_least": 4.5, "at_most": 5.5}, "4.5 to 4.7"),
        ({"at_least": 4.0, "at_most": 4.6}, "4.3 to 4.6"),
        ({"at_least": 5.5, "at_most": 6.0}, "none: what is in it needs 4.3 to 4.7, the brief wants 5.5 to 6"),
    ],
)
def test_a_limit_respects_the_range_of_the_system_less_its_margin(pH, limit):
    asked = brief(pH)
    assert limit_of_pH(asked, asked.library.arrays.amounts(LINES)) == limit


def test_without_a_system_the_rule_for_a_finished_wash_is_what_is_left():
    asked = brief(None)
    assert limit_of_pH(asked, asked.library.arrays.amounts(LINES[:2])) == "4 to 8"


def test_a_formula_outside_its_range_is_brought_to_the_nearest_end_of_it():
    today = CurrentFormula(TypedFormula("today", LINES, 99.7), library())
    assert today.pH > 4.7
    assert today.targets()["pH"] == {"at_least": 4.3, "at_most": 4.7}
    assert "pH" not in today.hold()


def test_a_pH_that_cannot_be_told_is_left_to_the_bench_in_the_range_of_what_is_kept():
    """It used to be held around a value that was computed as if the unknown were neutral."""
    whole = library()
    unknown = whole.substance["Coco-Glucoside"].model_copy(
        update={"pka": (), "charge_acid_form": None, "strong_charge": None}
    )
    substances = tuple(unknown if s.inci == unknown.inci else s for s in whole.substances)
    today = CurrentFormula(
        TypedFormula("today", LINES, 99.7), whole.model_copy(update={"substances": substances})
    )
    assert today.targets()["pH"] == {"at_least": 4.3, "at_most": 4.7, "set": "bench"}
    assert "pH" not in today.hold()
