"""A shelf that lacks what a brief asks for is a conflict with ways out that work as printed (convention 8)."""

import pytest

from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.design import design
from optiform.brief.models import Brief, Exclude, Include, Share, Target, Weighing
from optiform.program import Key, build
from tests.answers.random_briefs import possible
from tests.builders import tiny_library

LIBRARY = tiny_library([
    {"id": "glycerin", "function": "humectant", "price": 2.0},
    {"id": "nettle", "function": "extract", "price": 8.0},
    {"id": "quince", "function": "extract", "price": 9.0},
])  # fmt: skip
BATCH_G = 500.0


def wanted(shelf, **more):
    fields = {"include": (Include(material="nettle", at_least=2.0),), **more}
    return Brief(
        title="little on the shelf",
        library=LIBRARY,
        law="none",
        targets={"material:glycerin": Target(at_least=1.0)},
        shelf=shelf,
        weighing=Weighing(batch_g=BATCH_G),
        **fields,
    )


CASES = {
    # 2 % of 500 g are 10 g
    "too little of one": (wanted({"glycerin": None, "nettle": 9.0}), {"stock/nettle/at_most": 2.0}),
    "too little of two": (wanted({"glycerin": 4.0, "nettle": 9.0}), {}),
    "none of one": (wanted({"glycerin": None}), {"shelf": ("nettle",)}),
    "none of one, too little of another": (wanted({"glycerin": 4.0}), {}),
}


@pytest.mark.parametrize("name", CASES)
def test_too_little_of_a_required_material_is_a_conflict_whose_ways_out_work(name):
    """By hand: 2 % of a batch of 500 g are 10 g; what a change would put on the shelf is just that."""
    brief, expected = CASES[name]
    found = design(brief).conflict
    assert found is not None
    assert not possible(brief)
    told = {str(way.requirement.key): way.readmit or way.to for way in found.single_changes}
    assert expected.items() <= told.items()
    for way in found.single_changes:
        assert possible(typed_back(brief, way)), way.requirement.title
    if not expected:
        assert not told, "two things lack: no single change is enough"
        changes = found.compromise or found.together.changes
        assert possible(typed_back(brief, *changes))


def test_a_shelf_is_not_opened_further_than_needed():
    brief = wanted(
        {"glycerin": None},
        include=(Include(function="extract", at_least=2.0),),
        exclude=(Exclude(material="quince"),),
        share=(Share(of="nettle", base="function:extract", at_least=50.0),),
    )
    (way,) = [way for way in design(brief).conflict.single_changes if way.requirement.key == Key("shelf")]
    assert way.readmit == ("nettle",), "quince stays off the shelf, and excluded"
    shelf = typed_back(brief, way).shelf
    assert shelf == {"glycerin": None, "nettle": None}
    assert Key("shelf") in build(typed_back(brief, way)).index_of
