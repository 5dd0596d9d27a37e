"""What was designed holds what it was designed for, also where its brief is not at hand.

Property: an answer, written as a document or a table and read again, breaks nothing in `evaluate` and `sheet`, because
it brings law, product, area, users and pH along. Oracle for what is not stated: uncharged acid by hand, at the
formula's own pH (Henderson and Hasselbalch).
"""

from __future__ import annotations

import json
import tomllib

import pytest

from optiform import sheets
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief import brief_from
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.formulas import read_formula
from optiform.views.data import csv_table, json_document
from optiform.views.results.answer import rows
from tests.answers.design.test_rules_on_ph import asked, guarded, typed, uncharged
from tests.asked import PROBLEMS, designed

NAMES = sorted(path.parent.name for path in PROBLEMS.glob("*/brief.toml"))
FORMS = {
    "json": lambda answer: json_document.document("design", answer),
    "csv": lambda answer: csv_table.table(*rows(answer)),
}


def library_of(name):
    stated = tomllib.loads((PROBLEMS / name / "brief.toml").read_text()).get("library")
    return load_library(None if stated is None else PROBLEMS / name / stated)


def written(answer, form, folder):
    path = folder / f"answer.{form}"
    path.write_text(FORMS[form](answer))
    return path


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", NAMES)
def test_what_was_designed_breaks_nothing_without_its_brief(name, form, tmp_path):
    answer = designed(name)
    if answer.status == "conflict":
        assert answer.formulas == ()
        return
    library, path = library_of(name), written(answer, form, tmp_path)
    for formula in answer.formulas[:1] if form == "json" else answer.formulas[-1:]:
        held = sheets.read_weighable_formula(path, library, formula.rank)
        alone = evaluate(held, library)
        assert [item.requirement.title for item in alone.formulas[0].breaks] == []
        assert alone.brief.targets.get("pH") == answer.brief.targets.get("pH")
        assert (alone.brief.law, alone.brief.area) == (answer.brief.law, answer.brief.area)
        made = sheets.make_sheet(held, library, 1000.0, parts=("batch", "label"))
        assert made.breaks == ()


@pytest.mark.parametrize("form", FORMS)
def test_everything_that_was_stated_is_read_again(form, tmp_path):
    keys = {
        "title": "Quay wash for the very young",
        "law": "UK",
        "area": "body",
        "users": ["under 3"],
        "on": tomllib.loads("on = 2026-03-01")["on"],
        "targets": {
            "active matter": {"at_least": 6.0},
            "pH": {"at_least": 4.3, "at_most": 4.9, "set": "bench"},
        },
        "include": [{"material": "sodium-benzoate"}, {"material": "potassium-sorbate"}],
        "waive": [{"rule": "margin of benzoate with sorbate"}],
    }
    brief = brief_from(keys, load_library(None))
    held = read_formula(written(design(brief), form, tmp_path), load_library(None))
    again = evaluate(held, load_library(None))
    for name in ("law", "product", "area", "users", "on", "waive"):
        assert getattr(again.brief, name) == getattr(brief, name)
    assert again.brief.targets["pH"] == brief.targets["pH"]
    assert again.formulas[0].breaks == ()
    assert any(
        note.startswith("Judged without a brief") and "pH 4.3 to 4.9, set at the bench" in note
        for note in again.notes
    )


def test_without_any_window_a_formula_is_judged_at_its_own_pH():
    """At 4.4 the acid suffices, at 4.7 (5 less the margin of 0.3) it would not: nobody said that it may go there."""
    library = guarded(margin=0.3, undissociated_at_least={"Sodium Benzoate": 0.1})
    formula = design(asked({"at_least": 4.3, "at_most": 4.4}, library)).formulas[0]
    assert uncharged(formula, 4.7) < 0.1 <= uncharged(formula, formula.acidity.pH) + 1e-4
    alone = evaluate(typed(formula), library).formulas[0]
    assert alone.breaks == ()
    figure = alone.figure("undissociated:Sodium Benzoate")
    assert figure.value == pytest.approx(uncharged(formula, formula.acidity.pH), rel=2e-3)
    assert evaluate(typed(formula), library, asked(None, library)).formulas[0].breaks == ()
    high = asked({"at_least": 4.3, "at_most": 5.0}, library)
    (missed,) = evaluate(typed(formula), library, high).formulas[0].breaks
    assert missed.requirement.title.endswith("in benzoate with sorbate at pH 4.7")


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"law": "the moon"}, "law"),
        ({"users": ["seals"]}, "users, entry 1"),
        ({"pH": {"at_least": "sour"}}, '[targets] "pH", at_least'),
        ({"pH": [4, 5]}, '[targets] "pH"'),
        ({"on": "tomorrow"}, "on"),
    ],
)
def test_what_a_document_states_wrongly_is_refused_by_name(change, place, tmp_path):
    path = tmp_path / "answer.json"
    path.write_text(
        json.dumps({"brief": {"title": "t", **change}, "lines": [{"material": "water", "percent": 100}]})
    )
    with pytest.raises(BadInput) as bad:
        evaluate(read_formula(path, load_library(None)), load_library(None))
    assert [fault.place for fault in bad.value.faults] == [place]
    assert bad.value.faults[0].file == str(path)
