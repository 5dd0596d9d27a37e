"""Legal limits from the brief to the answer: summed at substance level, as acid, never relaxed.

Sources: Regulation (EC) No 1223/2009, Annex V (consolidated), entries 1, 1a, 4, 29 and 34; molar masses in g/mol:
benzoic acid 122.12, sodium benzoate 144.10, potassium benzoate 160.21, sorbic acid 112.13, potassium sorbate 150.22.
"""

import pytest

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.models import Aim, Brief, Include, Ranked
from optiform.library.formulas import TypedFormula
from tests.builders import tiny_library

SALTS = {
    "Sodium Benzoate": 144.10,
    "Potassium Benzoate": 160.21,
    "Potassium Sorbate": 150.22,
    "Benzoic Acid": 122.12,
    "Phenoxyethanol": 138.16,
    "Benzyl Alcohol": 108.14,
}


def shelf():
    """Return preservatives of one substance each, and one blend that brings benzoic acid and benzyl alcohol as well."""
    names = {inci.lower().replace(" ", "-"): inci for inci in SALTS}
    parts = {name: {inci: 100.0} for name, inci in names.items()}
    parts["blend"] = {"Benzyl Alcohol": 70.0, "Benzoic Acid": 15.0, "Phenoxyethanol": 15.0}
    return tiny_library(
        [{"id": name, "function": "preservative"} for name in parts],
        [
            {"inci": inci, "molar_mass": mass, "charge_acid_form": 0.0, "strong_charge": 0.0}
            for inci, mass in SALTS.items()
        ],
        parts,
    )


LIBRARY = shelf()
ONE = Ranked(how_many=1)


def most(material, **fields):
    """Return the most of a material that the brief's law lets in, % w/w."""
    brief = Brief(
        title="most",
        library=LIBRARY,
        aim=Aim(measure=f"material:{material}", sense="maximise"),
        ranked=ONE,
        **fields,
    )
    (formula,) = design(brief).formulas
    return next(line.percent for line in formula.lines if line.material == material)


def broken(lines, **fields):
    """Return what a formula breaks of the law."""
    brief = Brief(title="typed", library=LIBRARY, **fields)
    typed = TypedFormula(
        name="typed", lines=(*lines.items(), ("water", 100 - sum(lines.values()))), total=100.0
    )
    return [b for b in evaluate(typed, LIBRARY, brief).formulas[0].breaks if b.requirement.origin == "law"]


@pytest.mark.parametrize("law", ["EU", "UK"])
@pytest.mark.parametrize(
    ("material", "percent"),
    [
        ("sodium-benzoate", 2.950),  # 2.5 % as benzoic acid, rinse-off
        ("potassium-benzoate", 0.656),  # entry 1a: 0.5 % as acid, not 2.5 %
        ("potassium-sorbate", 0.804),  # 0.6 % as sorbic acid
        ("benzoic-acid", 2.5),
        ("phenoxyethanol", 1.0),
        ("benzyl-alcohol", 1.0),
    ],
)
def test_the_most_of_a_preservative_is_the_annexs(law, material, percent):
    assert most(material, law=law) == pytest.approx(percent, abs=0.0006)


def test_leave_on_is_another_product():
    """Entry 1: 0.5 % as acid where the product stays on, 0.590 % sodium benzoate."""
    assert most("sodium-benzoate", product="leave-on") == pytest.approx(0.590, abs=0.0006)


def test_just_legal_and_just_not():
    """2.950 % of sodium benzoate is 2.5 % as acid, to three decimals; a thousandth more is against the law."""
    exact = most("sodium-benzoate")
    assert round(exact, 3) == 2.950
    assert broken({"sodium-benzoate": exact}) == []
    (above,) = broken({"sodium-benzoate": 2.951})
    assert above.requirement.source
    assert "Annex V" in above.requirement.title + above.requirement.why
    assert not above.requirement.movable
    assert above.value == pytest.approx(2.951 * 122.12 / 144.10, abs=2e-4)


def test_a_value_that_misses_by_a_hair_is_told_apart_from_its_limit():
    """Nobody reads "here 2.5, at most 2.5"."""
    (above,) = broken({"sodium-benzoate": 2.9501})
    assert above.message.startswith("here 2.500")
    assert not above.message.startswith("here 2.5 ")


def test_materials_are_summed_by_substance():
    """Benzoate from the salt, the acid and a blend: one sum as acid; benzyl alcohol of the blend counts as well."""
    assert broken({"sodium-benzoate": 1.5, "benzoic-acid": 1.0, "blend": 1.0}) == []
    over = broken({"sodium-benzoate": 1.5, "benzoic-acid": 1.1, "blend": 1.0})
    assert [b.value for b in over] == [pytest.approx(1.5 * 122.12 / 144.10 + 1.1 + 0.15, abs=1e-3)]
    brief = Brief(
        title="sum",
        library=LIBRARY,
        include=(Include(material="blend", at_least=1.2, at_most=1.2),),
        aim=Aim(measure="material:benzyl-alcohol", sense="maximise"),
        ranked=ONE,
    )
    (formula,) = design(brief).formulas
    assert formula.figure("material:benzyl-alcohol").value == pytest.approx(1.0 - 0.84, abs=1e-6)


def test_the_law_is_never_relaxed_and_switching_it_off_is_said():
    """More than the law allows is a conflict with the law on the side that does not move; law = none says so."""
    brief = Brief(
        title="too much", library=LIBRARY, include=(Include(material="sodium-benzoate", at_least=3.0),)
    )
    answer = design(brief)
    assert answer.status == "conflict"
    assert any(r.origin == "law" and not r.movable for r in answer.conflict.not_movable)
    free = design(brief.model_copy(update={"law": "none"}))
    assert free.status == "solved"
    assert any("switches the legal limits off" in note for note in free.notes)


def test_a_legal_limit_that_binds_is_told_with_its_source():
    """What holds the formula is the law: named, priced, not movable."""
    aim = Aim(measure="material:potassium-sorbate", sense="maximise")
    brief = Brief(title="most", library=LIBRARY, aim=aim, ranked=ONE)
    (formula,) = design(brief).formulas
    (binding,) = [b for b in formula.binding if b.requirement.origin == "law"]
    assert binding.requirement.source
    assert binding.marginal_cost == pytest.approx(150.22 / 112.13, rel=0.03), (
        "one per cent of acid is 1.34 % of salt"
    )
