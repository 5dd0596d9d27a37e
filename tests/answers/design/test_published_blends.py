"""Published blending problems through the whole engine: files, brief, ranking, prices, command line."""

import json
from pathlib import Path

import pytest

from optiform.answers.check import check
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief import load_brief
from optiform.cli import main
from optiform.library.formulas import TypedFormula

PROBLEMS = Path(__file__).parents[3] / "problems"
CASES = {
    # H. P. Williams, Model Building in Mathematical Programming, section 1.2
    "oil-blend/brief.toml": "oil-blend/expected.json",
    # the blending case study in the documentation of PuLP, whole and simplified
    "cat-food-blend/brief.toml": "cat-food-blend/expected.json",
    "cat-food-blend/two-meats.toml": "cat-food-blend/expected-two-meats.json",
}


def expected(name):
    return json.loads((PROBLEMS / name).read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", CASES)
def test_the_published_optimum_and_its_prices(name):
    answer, wanted = design(load_brief(PROBLEMS / name)), expected(CASES[name])
    assert answer.status == wanted["status"]
    assert answer.proven
    assert len(answer.formulas) == 1
    (formula,) = answer.formulas
    assert answer.aim == wanted["measure"]
    assert formula.aim == pytest.approx(wanted["aims"][0], abs=wanted["within"])
    lines = {line.material: line.percent for line in formula.lines}
    assert lines == pytest.approx(wanted["lines"], abs=wanted["percent_within"])
    assert sum(lines.values()) == pytest.approx(100.0, abs=1e-9)
    told = {binding.requirement.title: binding for binding in formula.binding}
    for title, cost in wanted["marginal_costs"].items():
        assert told[title].marginal_cost == pytest.approx(cost, rel=wanted["marginal_costs_within"])
        assert told[title].marginal_cost_back == pytest.approx(cost, rel=wanted["marginal_costs_within"])


def test_williams_duals_come_back_as_marginal_costs():
    """Duals 29.6296 and 46.6667 per tonne of capacity; 3.7037 per unit of hardness and tonne, on 450 t of product."""
    (formula,) = design(load_brief(PROBLEMS / "oil-blend" / "brief.toml")).formulas
    by_measure = {binding.requirement.measure: binding for binding in formula.binding}
    assert by_measure["vegetable oil"].marginal_cost == pytest.approx(29.6296, abs=1e-3)
    assert by_measure["non-vegetable oil"].marginal_cost == pytest.approx(46.6667, abs=1e-3)
    assert by_measure["hardness"].marginal_cost / 450 == pytest.approx(3.7037, abs=1e-3)
    low, high = by_measure["hardness"].holds_from, by_measure["hardness"].holds_to
    assert low == pytest.approx((6.1 * 200 + 4.2 * 250) / 450, abs=1e-3), "all the vegetable oil is VEG2"
    assert high == pytest.approx((8.8 * 200 + 4.2 * 250) / 450, abs=1e-3), "all the vegetable oil is VEG1"


def test_the_case_study_of_a_can():
    """0.52 of 60 g beef and 40 g gel, and 5.20 per kg; simplified 0.97 of 33.3 g chicken and 66.7 g beef."""
    (formula,) = design(load_brief(PROBLEMS / "cat-food-blend" / "brief.toml")).formulas
    assert formula.figure("cost of a can").value == pytest.approx(0.52, abs=1e-6)
    assert formula.cost == pytest.approx(5.2, abs=1e-6)
    assert formula.figure("fat").value == pytest.approx(6.0, abs=1e-9)
    (simple,) = design(load_brief(PROBLEMS / "cat-food-blend" / "two-meats.toml")).formulas
    assert round(simple.aim, 2) == 0.97


@pytest.mark.parametrize("name", CASES)
def test_checking_and_evaluating_agree(name):
    """A witness exists, and the optimum typed in again breaks nothing."""
    brief = load_brief(PROBLEMS / name)
    assert check(brief).status == "solved"
    (formula,) = design(brief).formulas
    typed = TypedFormula(
        name="typed", lines=tuple((line.material, line.percent) for line in formula.lines), total=100.0
    )
    assert evaluate(typed, brief.library, brief).formulas[0].breaks == ()


@pytest.mark.parametrize("name", CASES)
def test_the_command_line_says_the_same(name, capsys):
    """`optiform design BRIEF --format json`: one document, the same numbers, exit 0."""
    assert main(["design", str(PROBLEMS / name), "--format", "json"]) == 0
    told, wanted = json.loads(capsys.readouterr().out), expected(CASES[name])
    assert told["status"] == "solved"
    assert told["proven"] is True
    lines = {line["material"]: line["percent"] for line in told["formulas"][0]["lines"]}
    assert lines == pytest.approx(wanted["lines"], abs=wanted["percent_within"])
    value = told["formulas"][0]["measures"][wanted["measure"]]["value"]
    assert value == pytest.approx(wanted["aims"][0], abs=wanted["within"])
