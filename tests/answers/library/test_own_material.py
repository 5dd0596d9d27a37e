"""A material of one's own takes part in a brief, with or without acid-base data, and an answer names it."""

import pytest

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.library.own_material import own_material
from optiform.brief.reading import brief_from
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.adding import joined
from optiform.library.formulas import TypedFormula
from optiform.library.likely import range_from_pH
from optiform.library.models import Substance, TitrationPoint

STARTER = load_library()
FOAMER = {
    "id": "quince-foamer",
    "name": "Quince foamer, 40 %",
    "function": "surfactant",
    "price": 1.0,
    "contents": [{"inci": "sodium quinceoyl taurate", "percent": 40}],
    "new_substances": [Substance(inci="Sodium Quinceoyl Taurate", charge_class="anionic", mildness=70)],
}
WASH = TypedFormula("wash", (("water", 84.6), ("quince-foamer", 15.0), ("citric-acid", 0.4)), 100.0)


def added(**more):
    return own_material(STARTER, {**FOAMER, **more.pop("keys", {})}, **more)


def test_it_goes_in_where_others_of_its_function_go_in():
    assert added().added.material.phase == "surfactant"
    assert added(keys={"phase": "cool"}).added.material.phase == "cool"


def test_INCI_names_are_spelt_as_the_library_spells_them():
    found = added(keys={"contents": [{"inci": "DECYL GLUCOSIDE", "percent": 50}]}).added
    assert [part.inci for part in found.parts] == ["Decyl Glucoside", "Aqua"]


def test_without_acid_base_data_it_says_so_and_a_dosed_pH_leaves_it_out_by_name():
    found = added()
    assert any("acid-base behaviour is unknown" in note for note in found.notes)
    answer = evaluate(WASH, joined(STARTER, found.added))
    assert any("quince-foamer" in note for note in answer.formulas[0].notes)


@pytest.mark.parametrize(
    ("how", "said"),
    [
        (
            {"neutral": True},
            "Counted as neutral in the pH, because the library declares it so: Quince foamer, 40 %.",
        ),
        ({"pH_10": (7.0, 8.0)}, "Known from the supplier's pH at 10 % alone"),
    ],
)
def test_declared_or_by_its_pH_it_takes_part_in_a_dosed_pH_and_is_named(how, said):
    """It is the cheapest by far and asked for, so that the best formula holds it."""
    library = joined(STARTER, added(**how).added)
    brief = brief_from(
        {
            "title": "Quince wash",
            "targets": {"active matter": {"at_least": 6.0}, "pH": {"at_least": 4.9, "at_most": 5.2}},
            "include": [{"material": "quince-foamer", "at_least": 5.0}],
            "ranked": {"how_many": 1},
        },
        library,
    )
    (formula,) = design(brief).formulas
    assert {line.material: line.percent for line in formula.lines}["quince-foamer"] >= 5.0
    assert any(note.startswith(said) and "Quince foamer" in note for note in formula.notes)


def test_a_supplier_pH_alone_gives_a_wider_range_of_pH_than_a_declaration():
    """What buffers is unknown, so likely lots lie further apart."""
    ranges = []
    for how in ({"neutral": True}, {"pH_10": (7.0, 8.0)}):
        acidity = evaluate(WASH, joined(STARTER, added(**how).added)).formulas[0].acidity
        ranges.append(acidity.high - acidity.low)
    assert ranges[1] > 2 * ranges[0]


def test_the_wide_range_reaches_towards_what_may_buffer():
    """50 mmol/kg per unit from pH 5.5 (the project's own figure): base above it, acid below, at least 10 either way."""
    assert range_from_pH(0.0, 7.5) == (-10.0, 100.0)
    assert range_from_pH(0.0, 3.5) == (-100.0, 10.0)
    assert range_from_pH(1.0, 5.5) == (-9.0, 11.0)


def test_a_titration_is_data_like_any_other():
    curve = tuple(
        TitrationPoint(material="quince-foamer", pH=pH, acid_mmol_per_kg=acid)
        for pH, acid in ((11, -40), (8, 0), (2, 300))
    )
    found = added(keys={"titration": curve})
    assert not any("unknown" in note for note in found.notes)
    assert evaluate(WASH, joined(STARTER, found.added)).formulas[0].acidity.pH is not None


def test_a_window_of_a_known_material_ranges_over_its_lots():
    """The computed pH of 10 % lies in the middle of the window that set it."""
    keys = {"contents": [{"inci": "Decyl Glucoside", "percent": 50}], "new_substances": ()}
    material = added(keys=keys, pH_10=(11.0, 12.0)).added.material
    assert material.acid_base is None and (material.pH_10_min, material.pH_10_max) == (11.0, 12.0)
    assert material.free_alkali_low < material.free_alkali < material.free_alkali_high


@pytest.mark.parametrize(
    ("keys", "how", "said"),
    [
        ({}, {"neutral": True, "pH_10": (7.0, 7.0)}, "declared neutral, and a pH at 10 % given"),
        (
            {"contents": [{"inci": "Citric Acid", "percent": 50}], "new_substances": ()},
            {"neutral": True},
            "its acid-base data are known",
        ),
        ({"contents": [{"inci": "Sodium Quinceoyl Taurat", "percent": 40}]}, {}, "did you mean"),
    ],
)
def test_contradictions_are_refused(keys, how, said):
    with pytest.raises(BadInput, match=said):
        added(keys=keys, **how)
