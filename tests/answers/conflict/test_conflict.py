"""What collides is irreducible, and every suggestion works as printed."""

from __future__ import annotations

import itertools
import tomllib
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings

from optiform.answers.check import check
from optiform.answers.conflict.contradictions import contradictions
from optiform.answers.conflict.deletion_filter import irreducible, pared
from optiform.answers.conflict.typed_back import typed_back, without
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.rework import reformulate
from optiform.brief import brief_from, starter_brief
from optiform.brief.models import Brief, Choose, Exclude, Include, Share, Target
from optiform.library.formulas import TypedFormula
from optiform.program import build
from tests.answers.random_briefs import briefs, possible
from tests.answers.rework.today import brief_of as today
from tests.builders import NEUTRAL, tiny_library

RANDOM = settings(max_examples=20, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def asked(brief):
    """Return every requirement of a brief."""
    return [item for item in build(brief).requirements if item.origin == "brief"]


def all_without(brief, requirements):
    """Return the brief without some requirements, the last entries first so that places stay true."""
    for requirement in sorted(requirements, key=lambda item: item.key, reverse=True):
        brief = without(brief, requirement)
    return brief


def one_place_less(change):
    """Return a change that gives one unit of the last printed place less."""
    requirement = change.requirement
    unit = 1 if requirement.choice else 0.01
    towards = 1 if requirement.bound > change.to else -1
    return replace(change, to=round(change.to + towards * unit, 2))


def hold_to_its_word(brief, found):
    """Hold a conflict's suggestions against the brief with them typed in."""
    for change in found.single_changes:
        assert possible(typed_back(brief, change)), change
        if change.to is not None and not (change.requirement.key.section == "include" and change.to <= 0):
            assert not possible(typed_back(brief, one_place_less(change))), change
    if found.compromise:
        assert possible(typed_back(brief, *found.compromise))
        for place, given in enumerate(found.compromise):
            others = [other for other in found.compromise if other is not given]
            assert not possible(typed_back(brief, *others)), f"{place}: gives way for nothing"
    if found.together is not None:
        assert possible(typed_back(brief, *found.together.changes))
        assert not found.single_changes
        assert not found.compromise


@RANDOM
@given(briefs())
def test_a_conflict_is_irreducible_and_every_way_out_works(brief):
    assume(not possible(brief))
    found = design(brief).conflict
    everything = asked(brief)
    outside = [item for item in everything if item not in found.requirements]
    assert not possible(all_without(brief, outside))
    for member in found.requirements:
        assert possible(all_without(brief, [*outside, member])), f"still impossible without {member.title}"
    disjoint = [item for more in (found.requirements, *found.more) for item in more]
    assert len(disjoint) == len(set(disjoint))
    hold_to_its_word(brief, found)


@settings(RANDOM, max_examples=8)
@given(briefs())
def test_a_conflict_is_one_of_those_that_trying_every_subset_finds(brief):
    assume(not possible(brief))
    everything = asked(brief)
    assume(len(everything) <= 6)
    minimal = []
    for size in range(len(everything) + 1):
        for subset in itertools.combinations(everything, size):
            if any(set(smaller) <= set(subset) for smaller in minimal):
                continue
            if not possible(all_without(brief, [item for item in everything if item not in subset])):
                minimal.append(subset)
    found = design(brief).conflict
    assert set(found.requirements) in [set(subset) for subset in minimal]
    whole = set.intersection(*(set(subset) for subset in minimal))
    assert {change.requirement for change in found.single_changes} <= whole


@settings(RANDOM, max_examples=20)
@given(briefs())
def test_no_contradiction_is_claimed_of_a_brief_that_can_be_met(brief):
    assume(possible(brief))
    assert contradictions(build(brief), brief) == ()
    assert check(brief).status == "solved"


IMPOSSIBLE = ({2, 5}, {3, 7, 8})


def holds(items):
    return not any(bad <= set(items) for bad in IMPOSSIBLE)


def everything(items):
    """Tell no more than that some items cannot hold together."""
    return None if holds(items) else items


def needed(items):
    """Tell what a proof needs, which may be any of the reasons, with more than it would have to."""
    bad = next((bad for bad in reversed(IMPOSSIBLE) if bad <= set(items)), None)
    return None if bad is None else [item for item in items if item in bad or item == 9]


def test_the_filters_keep_what_no_set_can_lose():
    assert set(irreducible(holds, range(10))) in IMPOSSIBLE
    for core in (everything, needed):
        assert set(pared(core, range(10))) in IMPOSSIBLE
    assert pared(needed, [1, 3, 7, 8]) == [3, 7, 8]


def wash(**fields):
    """Return a brief on a library of two surfactants, one gentle and dear, one harsh and cheap."""
    library = tiny_library(
        [
            {"id": "harsh", "function": "surfactant", "price": 1.0, "tags": ("strong",)},
            {"id": "gentle", "function": "surfactant", "price": 5.0},
            {"id": "oat", "function": "extract", "price": 8.0},
            {"id": "gum", "function": "thickener", "price": 12.0, "max_use": 1.0, "min_if_used": 0.1},
        ],
        [
            {"inci": "Harsh", "charge_class": "anionic", "mildness": 40.0, **NEUTRAL},
            {"inci": "Gentle", "charge_class": "nonionic", "mildness": 90.0, **NEUTRAL},
        ],
        {"harsh": {"Harsh": 50.0}, "gentle": {"Gentle": 50.0}},
    )
    return Brief(**{"title": "wash", "library": library, "law": "none", **fields})


def test_the_ways_out_of_a_hand_computed_conflict():
    """10 % active at mildness 65 is half and half: 10 % of each material, 0.10 + 0.50 = 0.60 per kg."""
    targets = {"active matter": Target(at_least=10.0), "mildness": Target(at_least=65.0)}
    assert design(wash(targets=targets)).formulas[0].cost == pytest.approx(0.60, abs=1e-6)
    found = design(wash(targets={**targets, "cost": Target(at_most=0.50)})).conflict
    assert [item.title for item in found.requirements] == [
        "active matter at least 10 % w/w",
        "mildness at least 65 points",
        "cost at most 0.5 EUR/kg",
    ]
    ways = {change.requirement.measure: change.to for change in found.single_changes}
    # 0.06 per % of active at mildness 65; at 10 % active the gentle part g of 20 % costs 0.2 + 0.04 g = 0.5: g = 7.5
    assert ways == {"active matter": 8.33, "mildness": 58.75, "cost": 0.6}
    assert {item.measure: value for item, value in found.best_reachable} == ways
    assert [change.cost for change in found.single_changes] == pytest.approx([0.4998, 0.5, 0.6], abs=1e-4)


def test_several_disjoint_conflicts_are_all_told_and_no_single_change_is():
    brief = wash(
        targets={"active matter": Target(at_least=10.0), "mildness": Target(at_least=95.0)},
        include=(Include(material="gum", at_least=2.0),),
    )
    found = design(brief).conflict
    told = [{item.title for item in members} for members in (found.requirements, *found.more)]
    assert sorted(map(sorted, told)) == [
        ["active matter at least 10 % w/w", "mildness at least 95 points"],
        ["gum at least 2 % w/w"],
    ]
    assert found.single_changes == ()
    assert len(found.quick) == 2


def test_equal_bounds_form_one_requirement_and_move_as_one():
    brief = wash(include=(Include(material="gum", at_least=2.0, at_most=2.0),))
    found = design(brief).conflict
    assert [item.title for item in found.requirements] == ["gum exactly 2 % w/w"]
    assert [item.title for item in found.not_movable] == ["gum at most 1 % w/w"]
    (change,) = found.single_changes
    assert change.to == 1.0
    assert possible(typed_back(brief, change))


def test_choices_read_like_sentences_and_say_what_to_admit_again():
    brief = wash(
        targets={"active matter": Target(at_least=10.0), "mildness": Target(at_most=60.0)},
        exclude=(Exclude(tag="strong"),),
    )
    found = design(brief).conflict
    assert "no material tagged strong" in [item.title for item in found.requirements]
    by_key = {str(change.requirement.key): change for change in found.single_changes}
    assert by_key["exclude/1"].readmit == ("harsh",)
    hold_to_its_word(brief, found)


def test_a_count_gives_way_in_whole_numbers():
    brief = wash(
        targets={"active matter": Target(at_least=10.0)},
        share=(Share(each="surfactant", at_most=60.0),),
        choose=(Choose(function="surfactant", at_most=1),),
    )
    found = design(brief).conflict
    by_key = {str(change.requirement.key): change.to for change in found.single_changes}
    assert by_key["choose/1/at_most"] == 2
    assert by_key["share/1/at_most"] == 100.0
    hold_to_its_word(brief, found)


def test_an_include_that_has_to_go_is_told_as_such():
    brief = wash(include=(Include(material="oat", at_least=1.0),), targets={"cost": Target(at_most=0.0)})
    found = design(brief).conflict
    dropped = [change for change in found.single_changes if change.drop]
    assert [change.requirement.title for change in dropped] == ["oat at least 1 % w/w"]
    hold_to_its_word(brief, found)


@pytest.mark.parametrize("off", [0.0, 1e-7, -1e-7, 4e-7])
def test_a_limit_met_exactly_or_missed_by_a_ten_millionth_counts_as_met(off):
    """Tolerance: a requirement met within 1e-6 of its own unit is met."""
    brief = wash(
        targets={
            "active matter": Target(at_least=10.0 + off, at_most=10.0 + off),
            "mildness": Target(at_least=65.0 + off),
            "cost": Target(at_most=0.6 + off),
        }
    )
    assert check(brief).status == "solved"
    assert design(brief).status == "solved"


WINDOW = {
    "include": [{"material": "sodium-benzoate"}, {"material": "potassium-sorbate"}],
    "waive": [
        {"rule": "margin of benzoate with sorbate"},
        {"rule": "undissociated acid of benzoate with sorbate"},
    ],
}
"""The starter library's system of the two works from pH 4 to 5, its margin set aside."""


def at_the_end(pH, **more):
    targets = {"active matter": {"at_least": 10.0}, "pH": {**pH, **more}}
    return brief_from({"title": "wash", "ranked": {"how_many": 1}, "targets": targets, **WINDOW})


@pytest.mark.parametrize("at", [4.0 - 9e-7, 5.0 + 9e-7])
def test_a_window_of_pH_that_is_missed_by_a_ten_millionth_is_met(at):
    """Tolerance: a preservative system that works up to pH 5 works at 5.0000009."""
    brief = at_the_end({"at_least": at, "at_most": at})
    assert check(brief).status == "solved"
    answer = design(brief)
    assert answer.status == "solved"
    (formula,) = answer.formulas
    lines = tuple((line.material, line.percent) for line in formula.lines)
    (judged,) = evaluate(TypedFormula("again", lines, 100.0), brief.library, brief).formulas
    assert judged.breaks == ()


@pytest.mark.parametrize("at", [4.0 - 3e-6, 5.0 + 3e-6])
def test_a_window_of_pH_that_is_missed_by_more_than_a_millionth_is_not_met(at):
    """Tolerance: a preservative system that works up to pH 5 does not at 5.000003."""
    assert not possible(at_the_end({"at_least": at, "at_most": at}))


@pytest.mark.parametrize("at", [pytest.param(4.0 - 3e-6, marks=pytest.mark.slow), 5.0 + 3e-6])
def test_a_window_of_pH_just_missed_is_told_as_a_conflict(at):
    brief = at_the_end({"at_least": at, "at_most": at})
    assert check(brief).status == design(brief).status == "conflict"


@pytest.mark.parametrize("off", [1e-7, 3e-6])
@pytest.mark.parametrize(("low", "high"), [(4.0, 5.0), (4.5, 5.0), (4.0, 4.5)])
def test_a_window_left_to_the_bench_is_measured_with_the_same_tolerance(low, high, off):
    low, high = (low - off if low == 4.0 else low), (high + off if high == 5.0 else high)
    brief = at_the_end({"at_least": low, "at_most": high}, set="bench")
    assert check(brief).status == ("solved" if off < 1e-6 else "conflict")


@pytest.mark.parametrize("off", [3e-6, 1e-5, 1e-3])
def test_a_conflict_just_beyond_the_tolerance_is_told_and_priced(off):
    targets = {"active matter": Target(at_least=10.0), "mildness": Target(at_least=65.0)}
    brief = wash(targets={**targets, "cost": Target(at_most=0.6 - off)})
    answer = design(brief)
    assert answer.status == "conflict"
    assert len(answer.conflict.requirements) == 3
    ways = {change.requirement.measure: change.to for change in answer.conflict.single_changes}
    assert ways["cost"] == 0.6
    hold_to_its_word(brief, answer.conflict)


def test_the_solvers_own_search_finds_the_same_rows_in_a_continuous_program():
    """HiGHS reports an irreducible set of rows; they belong to the requirements that we name."""
    from optiform.solver import Session

    targets = {
        "active matter": Target(at_least=10.0),
        "mildness": Target(at_least=65.0),
        "cost": Target(at_most=0.5),
    }
    brief = wash(targets=targets, include=(Include(material="oat", at_least=0.1),))
    program = build(brief)
    session = Session(program.form)
    session.relax()
    highs = session._highs
    highs.setOptionValue("iis_strategy", 2 + 4)
    _, iis = highs.getIis()
    theirs = {program.requirements[program.row_requirement[row]] for row in iis.row_index_}
    assert theirs
    found = design(brief).conflict
    named = {item.key for item in (*found.requirements, *found.not_movable)}
    assert {item.key for item in theirs if item.origin == "brief"} == {
        key for key in named if key.section in ("targets", "include")
    }


def starter(**targets):
    brief = brief_from(tomllib.loads(starter_brief("oily", "gel")))
    return brief.model_copy(update={"targets": {**brief.targets, **targets}})


@pytest.mark.slow
def test_water_must_be_preserved_and_the_systems_that_a_pH_shuts_out_are_named():
    brief = starter(pH=Target(at_least=6.8, at_most=7.2)).model_copy(
        update={"exclude": (Exclude(substance="Phenoxyethanol"), Exclude(substance="Caprylyl Glycol"))}
    )
    found = design(brief).conflict
    assert [item.title for item in found.requirements] == [
        "pH at least 6.8",
        "no Phenoxyethanol",
        "no Caprylyl Glycol",
    ]
    assert "water must be preserved: exactly one preservative system" in [
        item.title for item in found.not_movable
    ]
    assert not any(item.movable for item in found.not_movable)
    by_key = {str(change.requirement.key): change for change in found.single_changes}
    assert by_key["targets/pH/at_least"].to == 5.7
    assert by_key["exclude/1"].readmit == ("phenoxyethanol",)


def test_a_pH_left_to_the_bench_takes_part_by_shutting_systems_out():
    brief = starter(pH=Target(at_least=6.8, at_most=7.2, set="bench")).model_copy(
        update={"exclude": (Exclude(substance="Phenoxyethanol"), Exclude(substance="Caprylyl Glycol"))}
    )
    found = design(brief).conflict
    assert "pH 6.8 to 7.2, left to the bench" in [item.title for item in found.requirements]
    held = [item.title for item in found.not_movable]
    assert "water must be preserved: exactly one preservative system" in held
    hold_to_its_word(brief, found)


@pytest.mark.slow
def test_a_cost_ceiling_on_the_starter_library():
    brief = starter(cost=Target(at_most=1.0))
    found = design(brief).conflict
    assert {item.measure for item in found.requirements} >= {"active matter", "cost"}
    hold_to_its_word(brief, found)
    assert check(brief).conflict.requirements == found.requirements


def test_where_no_single_change_and_no_compromise_helps_several_together_do():
    """More than its range of one material, and one that is asked for and kept out: both must give way."""
    brief = wash(
        include=(Include(material="gum", at_least=3.0), Include(material="oat", at_least=1.0)),
        exclude=(Exclude(material="oat"),),
        targets={"active matter": Target(at_least=10.0)},
    )
    found = design(brief).conflict
    assert found.more
    assert not found.single_changes
    assert not found.compromise
    hold_to_its_word(brief, found)
    given = {change.requirement.title: change for change in found.together.changes}
    assert given["gum at least 3 % w/w"].to == pytest.approx(1.0)
    assert len(given) == 2
    assert found.together.cost == pytest.approx(
        design(typed_back(brief, *found.together.changes)).formulas[0].cost
    )


def test_materials_that_share_a_choice_are_let_in_again_one_by_one():
    """Of a preservative system one part is asked for and the other kept out; what protects is no way out (14)."""
    brief = brief_from(
        {
            "title": "one part only",
            "targets": {"active matter": {"at_least": 10.0}, "pH": {"at_least": 4.5, "at_most": 5.5}},
            "include": [{"material": "sodium-benzoate", "at_least": 0.4}],
            "exclude": [{"material": "potassium-sorbate"}],
        }
    )
    (change,) = design(brief).conflict.single_changes
    assert change.requirement.title == "no potassium-sorbate"
    assert change.readmit == ("potassium-sorbate",)
    assert check(typed_back(brief, change)).status == "solved"


def test_what_a_keep_names_by_function_has_ways_out_that_work():
    """Each is typed back: the other materials are kept one by one, so that another may come in."""
    brief = today(
        keep=("function:surfactant", "leaf"), hold={}, targets={"active matter": {"at_least": 14.0}}
    )
    answer = reformulate(brief)
    titles = {change.requirement.title for change in answer.conflict.single_changes}
    assert {
        "no other surfactant than today",
        "glucoside as today: exactly 12 % w/w",
    } <= titles
    for change in answer.conflict.single_changes:
        freed = typed_back(brief, change)
        assert freed != brief
        assert reformulate(freed).status == "solved"
        assert "leaf" in freed.baseline.keep
