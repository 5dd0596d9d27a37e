"""Questions about a brief that wants to be sure: each answer holds what it says when the brief is asked again."""

import json

import numpy as np
import pytest

from optiform.answers.check import check
from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.price.why import why
from optiform.answers.tradeoff import tradeoff
from optiform.library.formulas import TypedFormula
from optiform.program import Key
from optiform.search.first_formula import first_of
from tests.taught import library, wash

SURE = {"viscosity": {"at_least": 3000.0, "at_most": 9000.0, "sure": 0.9}}


def sure(at_least, at_most=None, **keys):
    ends = {"at_least": at_least, **({} if at_most is None else {"at_most": at_most})}
    return wash({"viscosity": {**ends, "sure": 0.9, **keys}})


@pytest.fixture(scope="module")
def answer():
    return design(wash(SURE))


def test_what_certainty_costs_is_the_difference_of_two_designs(answer):
    plain = {"viscosity": {"at_least": 3000.0, "at_most": 9000.0}}
    without = design(wash(plain, ranked={"how_many": 1}))
    assert answer.margin.sure == (0.9,)
    assert answer.margin.cost == pytest.approx(
        answer.formulas[0].ranked_by - without.formulas[0].ranked_by, abs=1e-6
    )
    assert answer.margin.cost > 0.01
    assert without.margin is None
    assert "margin" not in json.loads(without.to_json())
    assert json.loads(answer.to_json())["margin"]["cost"] == answer.margin.cost


def test_what_certainty_costs_stands_on_the_first_screen(answer):
    line = f"Being 90 % sure costs {answer.margin.cost:.2f} EUR/kg."
    assert line in answer.to_text()
    assert line in answer.to_text(full=True)


def test_a_limit_is_priced_as_asking_again_prices_it(answer):
    """The slope of the best aim over the bound, from designs at 2950 and 3050 mPa.s (a curve: within 2 %)."""
    [binding] = [item for item in answer.formulas[0].binding if item.requirement.measure == "viscosity"]
    low, high = (first_of(sure(bound, 9000.0)).objective for bound in (2950.0, 3050.0))
    assert binding.marginal_cost == pytest.approx((high - low) / 100.0, rel=0.02)
    assert binding.requirement.title == "viscosity at least 3000 mPa.s, 90 % sure"


def test_check_and_design_agree(answer):
    checked = check(wash(SURE))
    assert checked.status == "solved"
    assert checked.formulas[0].cost == pytest.approx(answer.formulas[0].cost, abs=1e-6)


@pytest.fixture(scope="module")
def narrow():
    return sure(2000.0, 2500.0)


@pytest.fixture(scope="module")
def problem(narrow):
    return design(narrow).conflict


def test_a_window_narrower_than_its_margins_is_a_conflict(problem):
    keys = {item.key for item in problem.requirements}
    assert keys == {Key("targets", ("viscosity",), side) for side in ("at_least", "at_most")}
    assert first_of(wash({"viscosity": {"at_least": 2000.0, "at_most": 2500.0}})) is not None


def test_ways_out_work_as_printed_and_no_less_would(narrow, problem):
    """Where both margins just fit, the cost over the bound is steep: a millionth of a decade is a tenth of a cent."""
    assert len(problem.single_changes) == 2
    for change in problem.single_changes:
        brief = typed_back(narrow, change)
        assert brief.targets["viscosity"].sure == 0.9
        assert first_of(brief).objective == pytest.approx(change.cost, abs=5e-3)
        nearer = change.to + (1.0 if change.requirement.side == "at_least" else -1.0)
        target = brief.targets["viscosity"].model_copy(update={change.requirement.side: nearer})
        assert first_of(brief.model_copy(update={"targets": {**brief.targets, "viscosity": target}})) is None
    assert first_of(typed_back(narrow, *problem.compromise)).objective == pytest.approx(
        problem.compromise_cost, abs=5e-3
    )


def test_going_beyond_the_trials_is_a_way_out():
    brief = sure(700_000.0)
    changes = {item.requirement.key: item for item in design(brief).conflict.single_changes}
    beyond = changes[Key("tried", ("viscosity",))]
    moved = typed_back(brief, beyond)
    assert moved.targets["viscosity"].tried == "beyond"
    assert first_of(moved).objective == pytest.approx(beyond.cost, abs=1e-6)


def test_why_a_material_is_kept_out_names_the_trials():
    titles = [item.title for item in why(wash(SURE), "glucoside").why.kept_out]
    assert "viscosity: only surfactants and thickeners of its trials" in titles


def test_a_trade_off_passes_through_the_best_at_every_bound():
    curve = tradeoff(wash(SURE), "cost", "foam").curves[0]
    knots = [knot for stretch in curve.stretches for knot in (stretch.start, stretch.end)]
    for share in (0.3, 0.7, 0.95):
        bound = knots[0].bound + share * (knots[-1].bound - knots[0].bound)
        best = first_of(wash({**SURE, "foam": {"at_least": float(bound)}})).objective
        assert curve.at(bound) == pytest.approx(best, abs=1.1e-3)


def test_a_typed_formula_is_told_what_it_surely_holds():
    lines = {"water": 83.0, "foamer": 10.0, "betaine": 4.5, "gum": 1.0, "salt": 0.5, "nettle": 1.0}
    answer = evaluate(TypedFormula("mine", tuple(lines.items()), 100.0), library(), wash(SURE))
    [broken] = [item for item in answer.formulas[0].breaks if item.requirement.measure == "viscosity"]
    measure = next(item for item in answer.formulas[0].figures if item.measure == "viscosity")
    assert broken.value < measure.value < 3000.0
    assert (
        broken.message
        == f"here at least {broken.value:.4g} mPa.s, 90 % sure, {measure.value:.4g} most likely"
    )


def test_two_learned_measures_hold_together(answer):
    brief = wash({**SURE, "foam": {"at_least": 125.0, "sure": 0.8}})
    found = design(brief)
    assert found.margin.sure == (0.8, 0.9)
    assert found.formulas[0].ranked_by >= answer.formulas[0].ranked_by - 1e-9
    assert np.isfinite(found.margin.cost)
