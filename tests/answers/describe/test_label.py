"""The ingredient list beside a formula is the one that its label sheet prints."""

from __future__ import annotations

import json

import pytest

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief import brief_from
from optiform.brief.models import Brief
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.sheets.label_sheet import label_sheet
from optiform.views.render.text import Screen, render
from optiform.views.screens import answer_blocks

LINES = (
    ("water", 58.9),
    ("cocamidopropyl-betaine-30", 20.0),
    ("decyl-glucoside", 9.0),
    ("nettle-extract", 2.0),
    ("lavender-hydrosol", 9.0),
    ("lavender-oil", 0.5),
    ("sodium-benzoate", 0.4),
    ("mica-gold", 0.2),
)
"""An essential oil and a hydrosol with their allergens, a pearl of colourants, an extract with its own preservative."""


def typed(lines=LINES) -> TypedFormula:
    return TypedFormula("wash", tuple(lines), 100.0)


def told(answer) -> str:
    """Return an answer as it stands on a screen, its line breaks folded."""
    return " ".join(render(answer_blocks(answer), Screen()).split())


@pytest.mark.parametrize("law", ["EU", "UK", "US", "none"])
@pytest.mark.parametrize("product", ["rinse-off", "leave-on"])
def test_a_typed_formula_lists_its_ingredients_as_its_label_does(law, product):
    library = load_library()
    brief = Brief(title="wash", library=library, law=law, product=product)
    answer = evaluate(typed(), library, brief)
    (formula,) = answer.formulas
    listed = label_sheet(dict(LINES), library, brief).listed
    assert formula.label == listed
    assert listed.text in told(answer)
    (document,) = json.loads(answer.to_json())["formulas"]
    assert document["label"]["text"] == listed.text


def test_a_colourant_stands_last_and_an_oil_under_its_own_name():
    """Article 19(1)(g) of Regulation (EC) 1223/2009; allergens of the oil above 0.01 % in a rinse-off are named."""
    library = load_library()
    (formula,) = evaluate(typed(), library, Brief(title="wash", library=library)).formulas
    names = [item.name for item in formula.label.entries]
    assert names[-1].startswith("CI ")
    assert "Linalool" in names
    assert names != [item.inci for item in formula.ingredients]


def test_every_designed_formula_has_the_list_of_its_label():
    library = load_library()
    brief = brief_from(
        {
            "title": "wash",
            "targets": {"active matter": {"at_least": 8.0}},
            "include": [{"material": "lavender-oil"}],
            "ranked": {"how_many": 2},
        },
        library=library,
    )
    for formula in design(brief).formulas:
        amounts = {line.material: line.percent for line in formula.lines}
        assert formula.label.text == label_sheet(amounts, library, brief).listed.text


def test_a_librarys_own_allergens_count_and_their_faults_are_told_before_any_work(tmp_path):
    own = tmp_path / "allergens.csv"
    head = "jurisdiction,group_name,members,rinse_off_percent,leave_on_percent,valid_from,source\n"
    own.write_text(head + "EU,Quay Balm,Camphor,0.0001,0.0001,,own\n")
    library = load_library().model_copy(update={"folder": str(tmp_path)})
    brief = Brief(title="wash", library=library)
    (formula,) = evaluate(typed(), library, brief).formulas
    assert formula.label == label_sheet(dict(LINES), library, brief).listed
    own.write_text(head + "EU,Quay Balm,Camphor,much,0.0001,,own\n")
    with pytest.raises(BadInput, match="much"):
        evaluate(typed(), library, brief)
