"""What a library says of one material, and which materials a word means."""

import pytest

from optiform.faults import BadInput
from optiform.library.about import about, chosen
from optiform.library.models import (
    Incompatible,
    LinearRule,
    Needs,
    Pack,
    PreservativeSystem,
    Rules,
    Term,
    Trial,
    When,
)
from tests.builders import tiny_library

RULES = Rules(
    needs=(Needs(material="gum", other="tag:polyol", ratio=4.0),),
    incompatible=(Incompatible(one="tag:cationic", other="gum"),),
    when=(When(material="function:thickener", measure="electrolyte", at_most=1.0),),
    linear=(LinearRule(name="a rule", terms=(Term(material="glycerin"),), at_most=5.0),),
)
LIBRARY = tiny_library(
    [
        {"id": "gum", "function": "thickener"},
        {"id": "glycerin", "function": "humectant", "tags": ("polyol", "palm?")},
        {"id": "benzoate", "function": "preservative"},
    ],
    parts={"gum": {"Gum": 90.0}},
    rules=RULES,
    systems=(PreservativeSystem(name="benzoate alone", members={"benzoate": (0.4, 0.5)}),),
    packs=(Pack(material="gum", size_g=100, price=2.0),),
    trials=(Trial(base="b", material="gum", percent=1.0, mPa_s=900.0),),
)


def test_every_rule_that_touches_a_material_is_found_from_both_sides():
    gum, glycerin = about(LIBRARY, "gum"), about(LIBRARY, "glycerin")
    assert gum.needs == ((RULES.needs[0], True),)
    assert glycerin.needs == ((RULES.needs[0], False),)
    assert gum.incompatible == RULES.incompatible
    assert glycerin.incompatible == ()
    assert gum.when == RULES.when
    assert glycerin.linear == RULES.linear


def test_what_belongs_to_a_material_comes_with_it_and_nothing_else():
    gum, benzoate = about(LIBRARY, "gum"), about(LIBRARY, "benzoate")
    assert [part.inci for part in gum.parts] == ["Gum", "Aqua"]
    assert (len(gum.packs), len(gum.trials), gum.systems) == (1, 1, ())
    assert (benzoate.packs, benzoate.trials) == ((), ())
    assert [system.name for system in benzoate.systems] == ["benzoate alone"]


def test_an_unknown_material_is_a_key_error():
    with pytest.raises(KeyError):
        about(LIBRARY, "nothing")


def test_materials_are_narrowed_by_function_and_tag_and_may_contain_counts():
    assert [m.id for m in chosen(LIBRARY)] == ["water", "gum", "glycerin", "benzoate"]
    assert [m.id for m in chosen(LIBRARY, function="humectant")] == ["glycerin"]
    assert [m.id for m in chosen(LIBRARY, tag="palm")] == ["glycerin"]
    assert chosen(LIBRARY, function="thickener", tag="palm") == ()


def test_both_unknown_words_are_named_at_once():
    with pytest.raises(BadInput) as caught:
        chosen(LIBRARY, function="thickner", tag="plam")
    assert [(fault.place, fault.nearest) for fault in caught.value.faults] == [
        ("--function", "thickener"),
        ("--tag", "palm"),
    ]
