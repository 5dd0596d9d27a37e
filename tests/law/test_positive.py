"""What stands on no positive list: colourants are kept out, preservatives are named.

Sources: Article 14(1)(c) and (d) of Regulation (EC) 1223/2009; 21 CFR 73.2125 (chlorophyllin-copper in dentifrices).
"""

from datetime import date

import pytest

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.models import Brief, Include, Ranked
from optiform.law import law_for, unlisted
from optiform.library.formulas import TypedFormula
from optiform.library.reading import load_library
from tests.builders import tiny_library

DAY = date(2026, 11, 25)
DYES = {"Spirulina": ["colourant"], "CI 42090": ["colourant"], "CI 75810": ["colourant"]}
LIBRARY = tiny_library(
    [
        {"id": "spirulina-blue", "function": "colourant"},
        {"id": "blue", "function": "colourant"},
        {"id": "green", "function": "colourant"},
        {"id": "glycol", "function": "preservative"},
        {"id": "blend", "function": "preservative"},
    ],
    [
        {"inci": name, "tags": tags, "charge_acid_form": 0.0, "strong_charge": 0.0}
        for name, tags in DYES.items()
    ],
    {
        "spirulina-blue": {"Spirulina": 5.0},
        "blue": {"CI 42090": 0.1},
        "green": {"CI 75810": 1.0},
        "glycol": {"Caprylyl Glycol": 100.0},
        "blend": {"Caprylyl Glycol": 50.0, "Phenoxyethanol": 50.0},
    },
)


def names(law, library=LIBRARY):
    found = unlisted(library, law_for(library, law, DAY), "rinse-off", "face")
    return {item.material: item.rule.effect for item in found}


def test_a_dye_on_no_list_is_kept_out_and_a_preservative_is_named():
    assert names("EU") == {"spirulina-blue": "exclude", "glycol": "warn"}
    assert names("US") == {"spirulina-blue": "exclude"}
    assert names("none") == {}


@pytest.mark.parametrize(
    ("law", "dye"), [("EU", "spirulina-blue"), ("US", "spirulina-blue"), ("US", "green")]
)
def test_such_a_dye_makes_a_conflict_with_the_law_and_a_break(law, dye):
    brief = Brief(
        title="dyed", library=LIBRARY, law=law, on=DAY, include=(Include(material=dye, at_least=0.1),),
        ranked=Ranked(how_many=1),
    )  # fmt: skip
    answer = design(brief)
    assert answer.status == "conflict"
    assert any(item.origin == "law" for item in answer.conflict.not_movable)
    typed = TypedFormula(name="dyed", lines=((dye, 1.0), ("water", 99.0)), total=100.0)
    (broken,) = [
        b for b in evaluate(typed, LIBRARY, brief).formulas[0].breaks if b.requirement.origin == "law"
    ]
    assert not broken.requirement.movable
    assert "not allowed" in broken.requirement.title


def test_a_listed_dye_passes_and_an_unlisted_preservative_is_a_note():
    brief = Brief(title="typed", library=LIBRARY, law="EU", on=DAY)
    typed = TypedFormula(name="typed", lines=(("blue", 1.0), ("glycol", 0.5), ("water", 98.5)), total=100.0)
    (formula,) = evaluate(typed, LIBRARY, brief).formulas
    assert [b for b in formula.breaks if b.requirement.origin == "law"] == []
    assert any("list of preservatives (EU Annex V)" in note for note in formula.notes)


@pytest.mark.parametrize("law", ["EU", "UK", "US"])
def test_every_colourant_of_the_starter_library_is_listed(law):
    """But for the United States and chlorophyllin, which has a row of its own (21 CFR 73.2125)."""
    assert "exclude" not in names(law, load_library()).values()
