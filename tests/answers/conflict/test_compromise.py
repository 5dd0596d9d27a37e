"""A compromise asks for no more than is needed: re-solves say so, limit by limit and all together.

Oracle: the changed brief stated afresh and solved (`possible`), one printed place to each side.
"""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings

from optiform.answers.conflict.compromise import NEAR, PART
from optiform.answers.conflict.confirmation import Confirmation
from optiform.answers.conflict.restated import Restated
from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.describe.sensible_steps import step
from optiform.answers.design import design
from optiform.brief.models import Aim, Brief, Include, Target
from tests.answers.random_briefs import briefs, possible
from tests.asked import designed, problem
from tests.builders import NEUTRAL, tiny_library

PLACE = 0.01


def moved(relaxation, to):
    return replace(relaxation, to=round(to, 2))


def assert_least(brief, compromise):
    """It works; no limit can take a place back; and fewer steps of all are not enough."""
    assert possible(typed_back(brief, *compromise))
    for number, item in enumerate(compromise):
        towards = -1.0 if item.to > item.requirement.bound else 1.0
        less = moved(item, item.to + towards * PLACE)
        others = compromise[:number] + compromise[number + 1 :]
        assert not possible(typed_back(brief, less, *others)), f"{item.requirement.title}: {item.to}"
    steps = max(abs(item.to - item.requirement.bound) / step(item.requirement) for item in compromise)
    fewer = steps * (1.0 - NEAR) - 2 * PART - max(2 * PLACE / step(item.requirement) for item in compromise)
    if fewer > 0:
        sides = [1.0 if item.to > item.requirement.bound else -1.0 for item in compromise]
        short = [
            moved(item, item.requirement.bound + side * fewer * step(item.requirement))
            for item, side in zip(compromise, sides, strict=True)
        ]
        assert not possible(typed_back(brief, *short)), f"{fewer} steps of each are enough, {steps} were told"


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(briefs())
def test_a_compromise_is_the_least_that_works(brief):
    found = design(brief).conflict
    assume(found is not None and found.compromise)
    assert_least(brief, found.compromise)


@pytest.mark.slow
@settings(max_examples=400, derandomize=False, deadline=None, suppress_health_check=list(HealthCheck))
@given(briefs())
def test_a_compromise_is_the_least_that_works_however_often_it_is_drawn(brief):
    found = design(brief).conflict
    assume(found is not None and found.compromise)
    assert_least(brief, found.compromise)


def test_a_compromise_with_a_pH_takes_back_every_place_that_is_not_needed():
    """Each changed brief is solved at its own ionic strength, as if it had been typed."""
    brief = problem("too-many-wishes")
    compromise = designed("too-many-wishes").conflict.compromise
    assert Confirmation(Restated(brief)).solved(*compromise) is not None
    for number, item in enumerate(compromise):
        towards = -1.0 if item.to > item.requirement.bound else 1.0
        less = moved(item, item.to + towards * PLACE)
        others = compromise[:number] + compromise[number + 1 :]
        assert Confirmation(Restated(brief)).solved(less, *others) is None, (
            f"{item.requirement.title}: {item.to}"
        )


def test_another_choice_of_materials_may_need_less():
    """Two surfactants, one mild and dear, one harsh and cheap, at most one of them; by hand.

    All give s steps: the mild one (90 points, 2.00 EUR/kg of active matter as 20 %: 0.10 EUR/kg a percent) needs
    cost alone, the harsh one (10 points, 0.02 a percent) needs mildness alone. Cost at most 0.30, 6 % active matter,
    mildness at least 80. The mild one costs 0.60: with cost and active matter giving s steps of 0.01 and 1 %
    (6 - s) * 0.10 <= 0.30 + 0.01 s gives s = 30 / 11 = 2.73, while the harsh one would need 14 steps of mildness.
    """
    library = tiny_library(
        [
            {"id": "mild", "function": "surfactant", "price": 2.0},
            {"id": "harsh", "function": "surfactant", "price": 0.4},
        ],
        [
            {"inci": "Mild", "charge_class": "nonionic", "mildness": 90.0, **NEUTRAL},
            {"inci": "Harsh", "charge_class": "anionic", "mildness": 10.0, **NEUTRAL},
        ],
        {"mild": {"Mild": 20.0}, "harsh": {"Harsh": 20.0}},
    )
    brief = Brief(
        title="mild and cheap",
        library=library,
        law="none",
        aim=Aim(),
        targets={
            "active matter": Target(at_least=6.0),
            "mildness": Target(at_least=80.0),
            "cost": Target(at_most=0.30),
            "ingredients": Target(at_most=2.0),
        },
    )
    compromise = design(brief).conflict.compromise
    assert_least(brief, compromise)
    told = {item.requirement.measure: item.to for item in compromise}
    assert set(told) == {"active matter", "cost"}
    assert told["active matter"] == pytest.approx(6 - 30 / 11, abs=0.15)
    assert told["cost"] == pytest.approx(0.1 * told["active matter"], abs=0.01)


def test_what_a_limit_gives_is_no_more_than_another_choice_of_materials_needs():
    """Two extracts of which one may be cheaper and the other goes further: what cost gives is what either needs."""
    library = tiny_library([
        {"id": "nettle", "function": "extract", "price": 20.0, "min_if_used": 2.0},
        {"id": "linden", "function": "extract", "price": 9.0, "min_if_used": 0.5, "max_use": 1.9},
        {"id": "glycerin", "function": "humectant", "price": 2.0},
    ])  # fmt: skip
    brief = Brief(
        title="extract",
        library=library,
        law="none",
        targets={"cost": Target(at_most=0.15)},
        include=(Include(function="extract", at_least=2.0), Include(material="glycerin", at_least=3.0)),
    )
    compromise = design(brief).conflict.compromise
    assert_least(brief, compromise)
