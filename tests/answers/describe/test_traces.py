"""Traces: nobody weighs in 0.004 %, and two formulas that differ by it are one. Our threshold, 0.01 %, no source."""

from __future__ import annotations

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.library.report import check_library
from optiform.brief import brief_from
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from tests.builders import NEUTRAL, tiny_library

SUBSTANCES = [
    {"inci": "Decyl Glucoside", "charge_class": "nonionic", "mildness": 80.0, **NEUTRAL},
    {"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric", "mildness": 75.0, **NEUTRAL},
]
PARTS = {"glucoside": {"Decyl Glucoside": 50.0}, "betaine": {"Cocamidopropyl Betaine": 30.0}}


def library(**betaine):
    return tiny_library(
        [
            {"id": "glucoside", "function": "surfactant", "price": 2.0, "min_if_used": 1.0},
            {"id": "betaine", "function": "surfactant", "price": 9.0, **betaine},
            {"id": "dye", "function": "colourant"},
        ],
        SUBSTANCES,
        PARTS,
    )


def test_a_formula_that_differs_by_a_trace_is_not_another_one() -> None:
    """Without a least dose the second structure is the first with 0.001 % of the dearer surfactant in it."""
    keys = {"title": "x", "targets": {"active matter": {"at_least": 8.0}}, "law": "none"}
    loose = design(brief_from(keys, library()))
    bodies = [{line.material for line in formula.lines} for formula in loose.formulas]
    assert bodies == [{"water", "glucoside"}, {"water", "betaine"}]
    assert [formula.rank for formula in loose.formulas] == [1, 2]
    assert any("differs from formula 1 by a trace of Betaine" in note for note in loose.notes)
    firm = design(brief_from(keys, library(min_if_used=0.01)))
    assert len(firm.formulas) == 3 and not any("trace" in note for note in firm.notes)


def test_a_trace_in_a_formula_is_told_and_a_dye_is_none() -> None:
    lines = (("water", 89.99), ("glucoside", 10.0), ("betaine", 0.004), ("dye", 0.006))
    notes = evaluate(TypedFormula(name="one", lines=lines, total=100.0), library()).formulas[0].notes
    (told,) = [note for note in notes if "trace" in note]
    assert told.startswith("Betaine: 0.004 %") and "min_if_used" in told


def test_a_library_says_which_rows_allow_traces_and_the_starter_library_has_none() -> None:
    assert check_library(library()).allows_traces == ("betaine",)
    assert check_library(load_library()).allows_traces == ()
