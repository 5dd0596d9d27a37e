"""Entry prices and price ranges against solving the brief again at those prices."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optiform.answers.price import why
from optiform.brief import brief_from, starter_brief
from optiform.brief.models import Brief, Choose, Exclude, Include, Target
from optiform.faults import BadInput
from optiform.library.overrides import with_prices
from optiform.program import build
from optiform.search.ionic_strength import ground
from tests.answers.conflict.test_conflict import wash
from tests.answers.random_briefs import briefs, possible
from tests.builders import NEUTRAL, tiny_library

RANDOM = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
SLACK = 2e-6


def at_price(brief: Brief, material: str, price: float) -> tuple[float, float]:
    """Return the best cost at another price of one material, and how much of it the formula holds.

    Limits on cost are set aside, as they are when a price is followed.
    """
    targets = {name: target for name, target in brief.targets.items() if name != "cost"}
    library = with_prices(brief.library, {material: max(price, 0.0)})
    first = ground(build(brief.model_copy(update={"library": library, "targets": targets}))).first
    return first.objective, float(first.values[library.arrays.material_index[material]])


@RANDOM
@given(briefs(), st.data())
def test_outside_its_prices_another_formula_is_cheaper_and_inside_none_is(brief, data):
    assume(possible(brief))
    material = data.draw(st.sampled_from([item.id for item in brief.library.materials]))
    found = why(brief, material).why

    def own(price: float) -> float:
        return found.best + (price - found.price) * found.percent / 100.0

    if found.below is not None:
        price = found.below.price
        assert price <= found.price + SLACK
        assert at_price(brief, material, price)[0] == pytest.approx(own(price), abs=SLACK)
        cheaper = max(price - 0.5, 0.0)
        if price > 0.01:
            assert at_price(brief, material, cheaper)[0] < own(cheaper) - 1e-9
    elif not (found.kept_out and found.percent == 0):
        assert at_price(brief, material, 0.0)[0] == pytest.approx(own(0.0), abs=SLACK)
    if found.above is not None:
        price = found.above.price
        assert price >= found.price - SLACK
        assert at_price(brief, material, price)[0] == pytest.approx(own(price), abs=SLACK)
        assert at_price(brief, material, price + 0.5)[0] < own(price + 0.5) - 1e-9
    elif found.percent > 0:
        far = found.price + 1000.0
        assert at_price(brief, material, far)[0] == pytest.approx(own(far), abs=1e-4)


def test_the_entry_price_is_not_the_reduced_cost_where_there_is_a_smallest_dose():
    """A gum at 12 per kg does nothing for the brief but must be at least 0.1 %: no price brings it in, not even 0."""
    found = why(wash(targets={"active matter": Target(at_least=10.0)}), "gum").why
    assert found.percent == 0
    assert found.forced == pytest.approx(0.2 + 0.001 * 12.0, abs=1e-7)
    assert found.below is None


def test_an_entry_price_by_hand():
    """10 % active at mildness 40 is met by harsh alone; gentle is as strong, so it enters at the price of harsh."""
    found = why(
        wash(targets={"active matter": Target(at_least=10.0), "mildness": Target(at_least=40.0)}), "gentle"
    ).why
    assert found.below.price == pytest.approx(1.0, abs=1e-6)
    assert found.kept_out == ()


def test_what_keeps_a_material_out_is_named():
    brief = wash(targets={"active matter": Target(at_least=10.0)}, exclude=(Exclude(tag="strong"),))
    found = why(brief, "harsh").why
    assert [item.title for item in found.kept_out] == ["no material tagged strong"]
    assert found.forced is None


def test_two_requirements_may_keep_a_material_out_together():
    brief = wash(
        targets={"active matter": Target(at_least=10.0), "mildness": Target(at_least=70.0)},
        choose=(Choose(function="surfactant", at_most=1),),
    )
    found = why(brief, "harsh").why
    assert {item.title for item in found.kept_out} == {"mildness at least 70 points", "at most 1 surfactant"}


def test_what_keeps_a_material_in_is_named():
    found = why(wash(include=(Include(material="oat", at_least=2.0),)), "oat").why
    assert [item.title for item in found.kept_out] == ["oat at least 2 % w/w"]
    assert found.percent == pytest.approx(2.0)
    assert found.above is None


def test_a_brief_that_cannot_be_met_answers_why_with_its_conflict():
    answer = why(wash(include=(Include(material="gum", at_least=2.0),)), "oat")
    assert (answer.question, answer.status) == ("why", "conflict")


def test_an_unknown_material_is_bad_input_with_the_nearest_name():
    with pytest.raises(BadInput, match=r"did you mean 'gentle'"):
        why(wash(targets={"active matter": Target(at_least=1.0)}), "gentel")


def test_a_material_is_named_as_in_a_typed_formula_and_asked_about_where_it_could_be_two():
    brief = wash(targets={"active matter": Target(at_least=1.0)})
    assert why(brief, "GENTLE ").why == why(brief, "gentle").why
    starter = brief_from(tomllib.loads(starter_brief("oily", "gel")))
    with pytest.raises(BadInput, match=r"'citric acid' could be 4 materials; allowed: one of citric-acid"):
        why(starter, "citric acid")


def test_another_aim_has_no_entry_price_and_says_so():
    from optiform.brief.models import Aim

    brief = wash(
        targets={"active matter": Target(at_least=10.0, at_most=12.0)}, aim=Aim(measure="active matter")
    )
    answer = why(brief, "gum")
    assert answer.why.below is None
    assert any("no price" in note for note in answer.notes)


def test_a_dear_surfactant_of_the_starter_library_enters_below_its_price_and_not_above():
    brief = brief_from(tomllib.loads(starter_brief("oily", "gel")))
    found = why(brief, "decyl-glucoside").why
    assert found.percent == 0
    assert found.forced > found.best
    assert 0 < found.below.price < found.price
    strength = 0.005
    assert at_price(brief, "decyl-glucoside", found.below.price - strength)[1] > 0
    assert at_price(brief, "decyl-glucoside", found.below.price + strength)[1] == pytest.approx(0.0, abs=1e-6)


def test_the_price_of_a_doubled_material_is_that_of_its_twin():
    """Twins at 2 and 3 per kg: the dear one enters at exactly 2, the cheap one stays up to exactly 3."""
    library = tiny_library(
        [
            {"id": "one", "function": "surfactant", "price": 2.0, "min_if_used": 1.0},
            {"id": "two", "function": "surfactant", "price": 3.0, "min_if_used": 1.0},
        ],
        [{"inci": "Wash", "charge_class": "anionic", "mildness": 50.0, **NEUTRAL}],
        {"one": {"Wash": 50.0}, "two": {"Wash": 50.0}},
    )
    brief = Brief(
        title="twins", library=library, law="none", targets={"active matter": Target(at_least=10.0)}
    )
    assert why(brief, "two").why.below.price == pytest.approx(2.0, abs=1e-6)
    assert why(brief, "one").why.above.price == pytest.approx(3.0, abs=1e-6)
    assert why(brief, "one").why.forced == pytest.approx(0.6, abs=1e-6)
    for found in (why(brief, "two").why.below, why(brief, "one").why.above):
        assert {line.material for line in found.lines} == {"water", "two"}
