"""What protects is never for sale (convention 14): no way out, compromise or lever lowers it.

Oracle: the printed suggestions typed back into the brief; every least amount that protects stands there unchanged.
"""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.design import design
from optiform.brief.models import Brief, Choose, Include, Target
from optiform.library.models import LinearRule, Needs, Rules, Term, When
from optiform.program import build
from optiform.views.results.conflict import PROTECTS, conflict_blocks
from optiform.views.words.blocks import Paragraph
from tests.answers.random_briefs import possible
from tests.builders import tiny_library

LIBRARY = tiny_library([
    {"id": "keeper", "function": "preservative", "price": 30.0},
    {"id": "binder", "function": "chelator", "price": 20.0},
    {"id": "nettle", "function": "extract", "price": 10.0},
    {"id": "glycerin", "function": "humectant", "price": 2.0},
])  # fmt: skip
ASKED = {
    "by function": {"include": (Include(function="chelator", at_least=0.5),)},
    "as a material": {"include": (Include(material="binder", at_least=0.5),)},
    "as a substance": {"targets": {"substance:Binder": Target(at_least=0.5)}},
    "exactly": {"include": (Include(function="chelator", at_least=0.5, at_most=0.5),)},
    "as a count": {"choose": (Choose(function="chelator", at_least=1),)},
    "to be there": {"include": (Include(function="chelator"),)},
    "a rule": {"rules": Rules(when=(When(material="nettle", measure="function:chelator", at_least=0.5),))},
    "a rule of need": {"rules": Rules(needs=(Needs(material="nettle", other="function:chelator"),))},
    "a rule of proportion": {"rules": Rules(needs=(Needs(material="nettle", other="binder", ratio=0.5),))},
    "a linear rule": {
        "rules": Rules(
            linear=(
                LinearRule(
                    name="chelator for nettle",
                    terms=(
                        Term(material="nettle", times=0.5),
                        Term(measure="function:chelator", times=-1.0),
                    ),
                    at_most=0.0,
                ),
            )
        )
    },
    "a preservative": {"targets": {"function:preservative": Target(at_least=0.5)}},
}


def wanted(cost, nettle, asked):
    return Brief(
        title="protected",
        library=LIBRARY,
        law="none",
        targets={"cost": Target(at_most=cost), **asked.get("targets", {})},
        include=(Include(material="nettle", at_least=nettle), *asked.get("include", ())),
        choose=asked.get("choose", ()),
        rules=asked.get("rules", Rules()),
    )


def protecting(brief):
    """Return the demands that may not move, in words: their places in the brief may change."""
    return {item.title for item in build(brief).requirements if item.origin == "brief" and not item.movable}


def suggestions(conflict):
    yield from ((change,) for change in conflict.single_changes)
    if conflict.compromise:
        yield conflict.compromise
    if conflict.together is not None:
        yield conflict.together.changes


@pytest.mark.parametrize("name", ASKED)
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(cost=st.sampled_from([0.02, 0.05, 0.1]), nettle=st.sampled_from([0.5, 2.0, 5.0]))
def test_no_way_out_gives_up_what_protects(name, cost, nettle):
    brief = wanted(cost, nettle, ASKED[name])
    kept = protecting(brief)
    assert len(kept) == 1
    conflict = design(brief).conflict
    if conflict is None:
        return
    found = list(suggestions(conflict))
    assert found, "nettle and cost can give"
    for changes in found:
        changed = typed_back(brief, *changes)
        assert kept == protecting(changed)
        assert kept.isdisjoint(change.requirement.title for change in changes)
        assert possible(changed)


def test_where_only_what_protects_collides_it_is_said_and_no_way_out_is_offered():
    brief = Brief(
        title="too much of it",
        library=LIBRARY,
        law="none",
        targets={"function:chelator": Target(at_least=2.0)},
        include=(Include(function="preservative", at_least=99.0),),
    )
    answer = design(brief)
    assert all(change.requirement.movable for change in answer.conflict.single_changes)
    told = [
        block.text for block in conflict_blocks(answer.conflict, "EUR/kg") if isinstance(block, Paragraph)
    ]
    assert any(line.startswith(PROTECTS) for line in told)


def test_more_of_a_chelator_than_wanted_may_still_be_let_in():
    """An upper end is no protection: it gives way like any other."""
    brief = wanted(5.0, 0.5, {"include": (Include(function="chelator", at_least=0.5, at_most=0.6),)})
    requirements = {str(item.key): item for item in build(brief).requirements}
    assert not requirements["include/2/at_least"].movable
    assert requirements["include/2/at_most"].movable
